"""Where a cut-out opens, told by reports far apart: for each candidate an interval, and what is likely within it.

Rules: the warmth last shown without an opening is the least, the report that showed one the most; between them speaks
what such bodies usually have (common practice, no published source), of which a body with a small store for its size
sheds more. What was shown is safe; a candidate whose least passes its most is not the heater.
"""

from __future__ import annotations

from math import erf, exp, inf, log, pi, sqrt

from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, SHARES, later, warmth_of

STORE_SPREAD, LEVEL_SPREAD = 0.30, 0.20
LEVEL_SLOPE = -0.37  # of log level on log store, where capacity and output vary by themselves (derived)
SLACK = 0.02
STEP_SECONDS = 60.0
NO_WEIGHT = 0.004
UNLIKELY_SHARE = 0.15
NEVER = 0.05  # the share of bodies that shed whatever they are set to
PRESUMED_SHARE = 0.7  # of the usual warmth: nearly every body stands it
LEAST_SHARE = 0.4  # of the usual warmth: every body stands it
KNOWN_SHARE = 0.10  # stood and opened so close together are known
MOST_OPENINGS = 2
STOOD_LEAST = 30.0  # of the warmth: under it nothing is known yet


def interval(body: BodyMemory, n: int) -> tuple[float, float]:
    """The warmth that a candidate has stood, and the least at which it was seen open; (…, inf): never."""
    low = max(1.0, body.most[n], *(one.before[n] for one in body.lessons))
    return low, max(1.0, min((one.after[n] for one in body.lessons), default=inf))


def weigh_intervals(body: BodyMemory) -> None:
    """Each candidate's weight, and as its opening warmth what it has stood; before any opening, what most stand."""
    found = [interval(body, n) for n in range(CANDIDATES)]
    weights = [
        exp(-0.5 * (log(SHARES[n]) / STORE_SPREAD) ** 2) * _mass(body, n, *found[n])
        for n in range(CANDIDATES)
    ]
    total = sum(weights)
    if total <= 1e-300:
        weights, total = [1.0] * CANDIDATES, float(CANDIDATES)
    body.weights = [round(one / total, 5) for one in weights]
    if body.lessons:
        body.opens = [round(_at_least(body, n, *one), 3) for n, one in enumerate(found)]
    else:
        presumed = [PRESUMED_SHARE * exp(_middle(body, n)) for n in range(CANDIDATES)]
        body.opens = [round(max(one, low), 3) for one, (low, _) in zip(presumed, found, strict=True)]


def _at_least(body: BodyMemory, n: int, low: float, high: float) -> float:
    """The warmth that a run may come to: what was stood, or what any such body stands."""
    return max(low, min(high, LEAST_SHARE * exp(_middle(body, n)))) if low <= high else sqrt(low * high)


def likely(body: BodyMemory, n: int) -> float:
    """The warmth at which a candidate opens, most likely: the mean of what is usual within its interval."""
    low, high = interval(body, n)
    if low >= high:
        return sqrt(low * high)
    a, b = _place(body, n, low), _place(body, n, high)
    mass = _below(b) - _below(a)
    if mass < 1e-9:
        return sqrt(low * high) if high < inf else low
    bell = (exp(-0.5 * a * a) - (exp(-0.5 * b * b) if b < inf else 0.0)) / sqrt(2.0 * pi)
    return exp(_middle(body, n) + LEVEL_SPREAD * bell / mass)


def openings(body: BodyMemory) -> list[float]:
    """The warmth at which each candidate opens, most likely."""
    if body.lessons and not body.wide:
        return list(body.opens)
    return [likely(body, n) for n in range(CANDIDATES)]


def unsure_share(body: BodyMemory) -> float:
    """How far apart stood and opened are, as a share of the warmth, in the mean of the candidates."""
    found = [(weight, interval(body, n)) for n, weight in enumerate(body.weights) if weight >= NO_WEIGHT]
    shares = sum(weight * max(high / low - 1.0, 0.0) for weight, (low, high) in found)
    return shares / sum(weight for weight, _ in found)


def opened_at_share(body: BodyMemory, fall: Lesson) -> float:
    """The most warmth that an opening can have come at, over what was stood before, in the mean of the candidates."""
    if not body.weights or max(body.most) < STOOD_LEAST:
        return 1.0
    found = [
        (weight, log(max(fall.after[n], 1.0) / interval(body, n)[0])) for n, weight in enumerate(body.weights)
    ]
    return exp(sum(weight * one for weight, one in found) / sum(weight for weight, _ in found))


def opened_at_most(body: BodyMemory, fall: Lesson) -> float:
    """The same, as the likely candidate says that makes most of it; 0 where nothing was stood yet."""
    if max(body.most, default=0.0) < STOOD_LEAST:
        return 0.0
    usual = [exp(-0.5 * (log(share) / STORE_SPREAD) ** 2) for share in SHARES]
    weights = body.weights or usual
    return max(
        fall.after[n] / interval(body, n)[0]
        for n, weight in enumerate(weights)
        if weight >= UNLIKELY_SHARE * max(weights)
    )


def seeks(body: BodyMemory) -> bool:
    """Whether runs may still go a little further than was stood: until it is known, and never after two openings."""
    if not body.wide or not body.weights or len(body.lessons) >= MOST_OPENINGS:
        return False
    return not body.lessons or unsure_share(body) > KNOWN_SHARE


def presume(body: BodyMemory, doubtful: bool) -> None:
    """Before any opening: where one would be seen late, what such bodies usually shed is where it begins."""
    if doubtful and not body.weights:
        body.wide = True
        weigh_intervals(body)
    elif body.wide and not doubtful:
        body.wide, body.weights, body.opens = False, [], []


def outlook(
    body: BodyMemory, watts: float, seconds: float, share: float, rest: float = 0.0
) -> tuple[float, float]:
    """How likely a run of `seconds`, after a rest, opens it, 0..1; and by what share it passes what was stood."""
    store, risk, over = body.store_joules or 1.0, 0.0, 0.0
    for n, weight in enumerate(body.weights):
        if weight < NO_WEIGHT:
            continue
        rested = later(body.warmth[n], 0.0, rest, store * SHARES[n]) if rest else body.warmth[n]
        warmth = later(rested, watts, seconds, store * SHARES[n], STEP_SECONDS) / share
        over += weight * max(0.0, log(max(warmth, 1.0) / interval(body, n)[0]))
        risk += weight * _risk(body, n, warmth)
    return risk, over


def ever(body: BodyMemory, watts: float, share: float) -> float:
    """How likely it opens at all, however long it runs on that power, 0..1."""
    warmth = warmth_of(watts) / share
    return sum(weight * _risk(body, n, warmth) for n, weight in enumerate(body.weights))


def _risk(body: BodyMemory, n: int, warmth: float) -> float:
    """How likely a candidate opens by that warmth, 0..1."""
    low, high = interval(body, n)
    if warmth <= low:
        return 0.0
    return _mass(body, n, low, warmth) / _mass(body, n, low, high) if warmth < high else 1.0


def _middle(body: BodyMemory, n: int) -> float:
    return log(body.usual_opens or 100.0) + LEVEL_SLOPE * log(SHARES[n])


def _place(body: BodyMemory, n: int, warmth: float) -> float:
    return (log(warmth) - _middle(body, n)) / LEVEL_SPREAD if warmth < inf else inf


def _mass(body: BodyMemory, n: int, low: float, high: float) -> float:
    """The share of such bodies that open within the interval; of an empty one what a small error leaves."""
    if high > low * (1.0 + 1e-6):
        over = NEVER if high == inf else 0.0
        return max(over + _below(_place(body, n, high)) - _below(_place(body, n, low)), 1e-9)
    at = _place(body, n, sqrt(low * high))
    width = SLACK / LEVEL_SPREAD / sqrt(2.0 * pi)
    return max(width * exp(-0.5 * at * at - 0.5 * (log(low / high) / SLACK) ** 2), 1e-12)


def _below(place: float) -> float:
    return 0.5 * (1.0 + erf(place / sqrt(2.0))) if place < inf else 1.0
