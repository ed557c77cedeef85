"""A body of known interval, and what is to be said of it by the normal distribution of Python's own `statistics`.

Rules: bodies usually open at 100, with a spread of 20 % (of logarithms), so a place in the distribution is
log(warmth / 100) / 0.2; a candidate whose store is a share s of the middle one opens at 100 · s ** −0.37.
"""

from math import exp, inf, log
from statistics import NormalDist

from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, SHARES, later

NORMAL = NormalDist()
MIDDLE = CANDIDATES // 2
USUAL, STORE = 100.0, 5000.0
ALL = range(CANDIDATES)


def body_of(most=1.0, *openings: tuple, weights=None, wide=True, **more) -> BodyMemory:
    """A body that has stood so much (a number, or one for each candidate), and opened between such warmths."""
    body = BodyMemory(
        store_joules=STORE,
        usual_opens=USUAL,
        warmth=[0.0] * CANDIDATES,
        most=each(most),
        lessons=[Lesson(0.0, each(before), each(after)) for before, after in openings],
        wide=wide,
    )
    body.weights = [float(n == MIDDLE) for n in ALL] if weights is None else list(weights)
    for name, value in more.items():
        setattr(body, name, value)
    return body


def each(value) -> list[float]:
    """One value for each candidate."""
    return list(value) if isinstance(value, list | tuple) else [value] * CANDIDATES


def at(**values) -> list[float]:
    """A row of zeros but for candidates named n0 … n10."""
    return [values.get(f"n{n}", 0.0) for n in ALL]


def usual(n: int) -> float:
    """Where half of such bodies have opened."""
    return USUAL * SHARES[n] ** -0.37


def under(n: int, warmth: float) -> float:
    """The share of such bodies that open below a warmth."""
    return NORMAL.cdf(log(warmth / usual(n)) / 0.2)


def prior(n: int) -> float:
    """How likely a store of that share is beside the middle one, at a spread of 30 %."""
    return exp(-0.5 * (log(SHARES[n]) / 0.3) ** 2)


def reached(n: int, watts: float, seconds: float, warmth: float = 0.0) -> float:
    """Where a run ends, in steps of a minute."""
    return later(warmth, watts, seconds, STORE * SHARES[n], 60.0)


def risk(n: int, low: float, warmth: float, high: float = inf) -> float:
    """The share of bodies, of those that open above `low`, that have opened by that warmth (derived)."""
    if warmth <= low:
        return 0.0
    whole = (under(n, high) if high < inf else 1.05) - under(n, low)
    return (under(n, warmth) - under(n, low)) / whole if warmth < high else 1.0
