"""What openings teach: which size of the store makes all of them happen at one warmth.

Rules: an opening lies between two reports, so each candidate has a bracket of warmth for it; the true size is where
the openings agree best, found between the candidates by a parabola; what was reached without opening counts against
a candidate that says it must have opened. One opening alone leaves the prior's spread. An opening far below what was
known is odd (covered, in a draught, somebody else's hand): it teaches nothing, unless it is seen three times. One far
above it shows that those before were no openings of a free body, or that it was warmer then than anybody knew.
"""

from __future__ import annotations

from math import exp, inf, log, sqrt

from thermostatd.core.body.brackets import (
    LEVEL_SPREAD,
    UNLIKELY_SHARE,
    likely,
    unsure_share,
    weigh_intervals,
)
from thermostatd.core.body.state import MOST_LESSONS, MOST_ODD, BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, EXPONENT, SHARES, stores, tau_seconds, warmth_of, watts_of
from thermostatd.core.facts import HeaterFacts

PRIOR_SPREAD = 0.35
MODEL_SPREAD = 0.01  # of the warmth: what this body leaves out (a draught, the plates' own delays)
ODD_SHARE = 0.85
ABOVE_SHARE = 1.35  # no size of a body explains so much
TAU_SPREAD = 0.03
OWNER_SPREAD = 0.05
LEAST_SPREAD = 0.45
IN_BRACKET = 0.35
MOST_OVER_SHARE = 0.008  # over the lowest that is sure; more would risk an opening


def take(body: BodyMemory, lesson: Lesson, wide: bool = False) -> None:
    """Take one opening in, `wide` if it lies between reports far apart; an odd one is set aside."""
    if len(body.lessons) >= 2 and fraction(body, lesson.after) < ODD_SHARE:
        body.odd.append(lesson)
        if len(body.odd) < MOST_ODD:
            return
        body.lessons, body.odd, body.most = body.odd[:-1], [], [0.0] * CANDIDATES
    if body.lessons and not wide and fraction(body, lesson.before) > ABOVE_SHARE:
        body.lessons = []
    body.lessons = [*body.lessons, lesson][-MOST_LESSONS:]
    body.wide = wide
    if not body.wide:
        body.most = [min(most, seen) for most, seen in zip(body.most, lesson.before, strict=True)]
    body.odd = []
    weigh(body)


def forget_since(body: BodyMemory, wall: float, share: float = inf) -> None:
    """Openings after that wall time were none; where no other is known, those of at least a share of the warmest may
    stay, and without any nothing is known of where it opens."""
    most = max((_middle_after(lesson) for lesson in body.lessons), default=0.0)
    before = [one for one in body.lessons if one.at_wall <= wall]
    body.lessons = before or [one for one in body.lessons if _middle_after(one) >= share * most]
    body.odd, body.fall = [], None
    if body.lessons:
        weigh(body)
    else:
        body.wide, body.weights, body.opens = False, [], []


def _middle_after(lesson: Lesson) -> float:
    return lesson.after[len(lesson.after) // 2]


def trust_owner(body: BodyMemory, sustained_watts: float) -> None:
    """Before any opening: what the owner wrote is where it would open."""
    body.opens = [warmth_of(sustained_watts)] * CANDIDATES
    body.weights = _normal([_prior(share) for share in SHARES])


def weigh(body: BodyMemory) -> None:
    """Each candidate's opening warmth and weight, from all lessons."""
    if not body.lessons:
        return
    if body.wide:
        weigh_intervals(body)
        return
    misfits = [_misfit(body, n) for n in range(CANDIDATES)]
    middle, spread = _best(misfits)
    if len(body.lessons) > 1:
        misfits = [((n - middle) / max(spread, LEAST_SPREAD)) ** 2 for n in range(CANDIDATES)]
    body.weights = _normal([exp(-0.5 * (misfit - min(misfits))) for misfit in misfits])
    latest = body.lessons[-1]
    low, high = _bracket(body, middle)
    factor = _in_bracket(low, high) / _between(latest.before, middle)
    body.opens = [round(max(1.0, factor * one), 3) for one in latest.before]


def fraction(body: BodyMemory, warmth: list[float], share: float = 1.0) -> float:
    """Warmth over the warmth at which the cut-out opens, 0..1; `share` is the room's, see `room_share`."""
    parts = zip(body.weights, warmth, body.opens, strict=True)
    return sum(weight * one / (opens * share) for weight, one, opens in parts)


def fraction_at_worst(body: BodyMemory, warmth: list[float], share: float = 1.0) -> float:
    """The same by the candidate that says most, of those that are not unlikely."""
    likely = UNLIKELY_SHARE * max(body.weights)
    parts = zip(body.weights, warmth, body.opens, strict=True)
    return max(one / (opens * share) for weight, one, opens in parts if weight >= likely)


def tell(body: BodyMemory, facts: HeaterFacts) -> None:
    """Write what is believed now into the heater's facts; without any opening, that nothing is known."""
    if not body.lessons or body.store_joules is None:
        facts.body_tau_seconds = facts.body_tau_spread_seconds = None
        facts.opens_watts = facts.opens_spread_watts = None
        facts.sustained_watts = facts.sustained_spread_watts = None
        return
    at = [likely(body, n) for n in range(CANDIDATES)] if body.wide else body.opens
    taus = [tau_seconds(c, w) for c, w in zip(stores(body.store_joules), at, strict=True)]
    tau, tau_share = _mean(body.weights, taus)
    opens, opens_share = _mean(body.weights, [watts_of(warmth) for warmth in at])
    facts.body_tau_seconds = round(tau, 1)
    facts.body_tau_spread_seconds = round(tau * sqrt(tau_share**2 + TAU_SPREAD**2), 1)
    facts.opens_watts = facts.sustained_watts = round(opens, 1)
    spread = opens * sqrt(opens_share**2 + (EXPONENT * spread_share(body)) ** 2)
    facts.opens_spread_watts = facts.sustained_spread_watts = round(spread, 1)


def spread_share(body: BodyMemory) -> float:
    """How unsure the opening warmth is, as a share of it: one standard deviation."""
    if not body.lessons:
        return OWNER_SPREAD
    if body.wide:
        return sqrt(min(unsure_share(body), LEVEL_SPREAD) ** 2 / 12.0 + MODEL_SPREAD**2)
    middle = sum(n * weight for n, weight in enumerate(body.weights)) / sum(body.weights)
    low, high = _bracket(body, middle)
    return sqrt((high / low - 1.0) ** 2 / 12.0 + MODEL_SPREAD**2)


def _misfit(body: BodyMemory, n: int) -> float:
    """How badly a candidate makes sense of the record, in squared standard deviations."""
    logs = [log(max(sqrt(one.before[n] * one.after[n]), 1.0)) for one in body.lessons]
    wide = [log(max(one.after[n], 1.0) / max(one.before[n], 1.0)) for one in body.lessons]
    sure = [1.0 / (one**2 / 12.0 + MODEL_SPREAD**2) for one in wide]
    mean = sum(x * s for x, s in zip(logs, sure, strict=True)) / sum(sure)
    misfit = sum((x - mean) ** 2 * s for x, s in zip(logs, sure, strict=True))
    lowest = min(max(one.after[n], 1.0) for one in body.lessons)
    over = log(body.most[n] / lowest) if body.most[n] > lowest else 0.0
    return misfit + (log(SHARES[n]) / PRIOR_SPREAD) ** 2 + (over / (2.0 * MODEL_SPREAD)) ** 2


def _best(misfits: list[float]) -> tuple[float, float]:
    """Where between the candidates the misfit is least, and one standard deviation, both counted in candidates."""
    least = min(range(1, CANDIDATES - 1), key=misfits.__getitem__)
    before, here, after = misfits[least - 1 : least + 2]
    bend = before - 2.0 * here + after
    if bend <= 1e-9:
        return float(least), 1.0
    place = least + min(1.0, max(-1.0, 0.5 * (before - after) / bend))
    return place, sqrt(2.0 / bend)


def _between(values: list[float], place: float) -> float:
    """A value between two candidates, on a scale of logarithms."""
    low = min(int(place), CANDIDATES - 2)
    share = place - low
    return exp((1.0 - share) * log(max(values[low], 1.0)) + share * log(max(values[low + 1], 1.0)))


def _bracket(body: BodyMemory, place: float) -> tuple[float, float]:
    """The stretch of warmth that all openings share, at a place between the candidates."""
    low = max(_between(one.before, place) for one in body.lessons)
    high = min(_between(one.after, place) for one in body.lessons)
    return min(low, high), max(low, high)


def _in_bracket(low: float, high: float) -> float:
    """Where it is taken to open: low in its bracket, since an opening costs more than a little heat."""
    return low + min(IN_BRACKET * (high - low), MOST_OVER_SHARE * low)


def _prior(share: float) -> float:
    return exp(-0.5 * (log(share) / PRIOR_SPREAD) ** 2)


def _normal(weights: list[float]) -> list[float]:
    total = sum(weights)
    if total <= 1e-300:
        return _normal([_prior(share) for share in SHARES])
    return [round(weight / total, 5) for weight in weights]


def _mean(weights: list[float], values: list[float]) -> tuple[float, float]:
    """Weighted mean, and the spread as a share of it."""
    total = sum(weights)
    mean = sum(w * v for w, v in zip(weights, values, strict=True)) / total
    variance = sum(w * (v - mean) ** 2 for w, v in zip(weights, values, strict=True)) / total
    return mean, sqrt(variance) / mean
