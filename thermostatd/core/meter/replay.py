"""Tells by replay what keeps interrupting a heater whose meter is slow: its dial, a cover, or its own cut-out.

Rules: reports minutes apart miss most of what a switch on the body does, but the relay's times are known exactly. So
each cause is played through from the last sure moment, for each size of the body that is still believed, and is
asked at every report whether power should flow then. A dial opens low and closes after a few kelvins; a cut-out
under a cover opens at about two thirds of its rise, and closes late since the body sheds less; one that is free
opens at what it stood (common practice, no published source). A report that contradicts sets the replay right and
counts against it.
Pure arithmetic; times in seconds after the log began.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log

from thermostatd.core.body.brackets import openings
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import EXPONENT, SHARES, cooling_seconds, later

OFF, ON, FLOWS, NOTHING = 0, 1, 2, 3
STEP_SECONDS = 60.0
NEAR_SHARE = 0.03  # of the opening warmth: so close to switching it may as well have switched
LEAST_CHANCE = 0.01
STARTS_CHANCE = 0.3  # how warm the body was when it began is not sure: the first opening tells less
LIKELY_WEIGHT = 0.06
SIZE_SPREAD = 0.25  # of bodies of one label, besides what openings taught; common practice, no published source
SURELY = 3.0  # twenty to one
LEANS = 0.5
AWAY_CHANCE = 0.05
CLOSES_SHARE = 0.74
DIAL_BAND_SHARE = 0.08


@dataclass(frozen=True, slots=True)
class Switch:
    """A switch on the body: opens and closes at shares of the free opening warmth; `sheds` of the output is left."""

    opens: float
    closes: float
    sheds: float = 1.0


FREE = tuple(Switch(opens, closes * opens) for opens in (0.92, 1.0, 1.08) for closes in (0.68, 0.74, 0.80))
DIAL = tuple(Switch(opens, opens - DIAL_BAND_SHARE) for opens in (0.26, 0.32, 0.38, 0.44, 0.50, 0.56))
COVERED = tuple(
    Switch(opens, CLOSES_SHARE * opens, sheds) for opens in (0.60, 0.67, 0.74) for sheds in (0.3, 0.4, 0.55)
)


@dataclass(frozen=True, slots=True)
class Chances:
    """How well each cause explains the log: logarithms of likelihoods. `away`: power was gone for a while, from
    outside the body, and is back for good."""

    dial: float
    covered: float
    free: float
    away: float

    @property
    def is_dial(self) -> bool:
        """Surely the dial."""
        return self.dial - max(self.covered, self.free, self.away) >= SURELY

    @property
    def is_covered(self) -> bool:
        """Surely a cover."""
        return self.covered - max(self.dial, self.free, self.away) >= SURELY

    @property
    def leans_to_a_cover(self) -> bool:
        """Rather a cover than the dial, if it is either."""
        return self.covered - self.dial >= LEANS

    @property
    def is_free(self) -> bool:
        """Surely neither."""
        return max(self.free, self.away) - max(self.dial, self.covered) >= SURELY


def chances(
    body: BodyMemory, warmth: Sequence[float], events: Sequence[float], watts: float, share: float
) -> Chances:
    """`warmth` of each candidate as the log begins, `events` as seconds and what happened in turn, W of its level.

    `share` is the opening warmth in this room's air over that in one of 20 °C.
    """
    opens = openings(body)
    sizes = [exp(-0.5 * (log(share) / SIZE_SPREAD) ** 2) for share in SHARES]
    weights = [one * size for one, size in zip(body.weights or [1.0] * len(SHARES), sizes, strict=True)]
    likely = [n for n, weight in enumerate(weights) if weight >= LIKELY_WEIGHT * max(weights)]
    store = body.store_joules or 1.0

    def over(switches: Sequence[Switch]) -> float:
        found = [
            (weights[n], _fits(switch, warmth[n], opens[n] * share, store * SHARES[n], events, watts))
            for n in likely
            for switch in switches
        ]
        most = max(one for _, one in found)
        total = sum(weight for weight, _ in found)
        return most + log(sum(weight * exp(one - most) for weight, one in found) / total)

    return Chances(over(DIAL), over(COVERED), over(FREE), _away(events))


def _away(events: Sequence[float]) -> float:
    reports = [what for what in events[1::2] if what in (FLOWS, NOTHING)]
    last = max((n for n, what in enumerate(reports) if what == NOTHING), default=0)
    return log(AWAY_CHANCE) + log(LEAST_CHANCE) * reports[:last].count(FLOWS)


def _fits(
    switch: Switch, warmth: float, full: float, store: float, events: Sequence[float], watts: float
) -> float:
    """The logarithm of the chance of what was reported, if this is the cause and the body is so."""
    opens, closes, near = switch.opens * full, switch.closes * full, NEAR_SHARE * full
    is_open, on, at, fits, first = warmth >= opens, True, 0.0, 0.0, True
    turned, strayed = warmth, 0.0
    for seconds, what in zip(events[::2], events[1::2], strict=True):
        while at < seconds:
            drawn = watts if on and not is_open else 0.0
            if drawn:
                pace = (drawn - switch.sheds * warmth**EXPONENT) / store
                left = max(0.0, (opens - warmth) / pace) if pace > 0.0 else inf
                step = min(STEP_SECONDS, seconds - at)
                turns, step = left <= step, min(left, step)
                warmth += step * pace
            else:
                step, turns = seconds - at, False
                if is_open:
                    left = cooling_seconds(warmth, closes, store / switch.sheds)
                    turns, step = left <= step, min(left, step)
                warmth = later(warmth, 0.0, step, store / switch.sheds) if step > 0.0 else warmth
            at += step
            strayed = max(strayed, abs(warmth - turned))
            if turns:
                is_open, turned, strayed = not is_open, warmth, 0.0
        if what in (OFF, ON):
            on = what == ON
            continue
        clear = min(abs(warmth - (closes if is_open else opens)), strayed)
        doubt = max(LEAST_CHANCE, 0.5 * exp(-clear / near))
        if is_open == (what == NOTHING):
            fits += log(1.0 - doubt)
            continue
        fits += log(max(doubt, STARTS_CHANCE) if first else doubt)
        is_open = what == NOTHING
        warmth = turned = max(warmth, closes) if is_open else min(warmth, opens)
        strayed = 0.0
        if is_open and first:
            warmth = turned = opens
        first = False
    return fits
