"""Tells by replay what keeps interrupting a heater whose meter is slow: its dial, a cover, or its own cut-out.

Rules: reports minutes apart miss most of what a switch on the body does, but the relay's times are known exactly. So
each cause is played through from the last sure moment, for each size of the body that is believed, and is asked at
every report how likely power flows then. A dial opens low and closes after a few kelvins; a cut-out under a cover
opens at about two thirds of its rise, and closes late since the body sheds less; one that is free opens at what it
stood (common practice, no published source).
Where a body is in its cycle drifts (the mains, a draught), and a beat close to the reports' own shows little: so each
cause is played by a few bodies that heat and cool a little differently; those that a report contradicts give way to
copies of the others, and some begin anew anywhere in the cycle. A report counts by the share that it bears out.
Pure arithmetic; times in seconds after the log began.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from thermostatd.core.body.brackets import openings
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import COLD, EXPONENT, SHARES
from thermostatd.core.meter.causes import CAUSES, FLOWS, NOTHING, OFF, ON, Chances, Switch

STEP_SECONDS = 60.0
BODIES = 16  # of each cause and size
DRIFT_SHARE = 0.04  # of the power and of what is shed, from one body to the next: one standard deviation
WRONG_CHANCE = 0.02  # of a report that contradicts all
STARTS_CHANCE = 0.3  # how warm the body was when it began is not sure: the first opening tells less
ANEW_SHARE = 0.06  # of the bodies, at each report
OPENED_SECONDS = 300.0  # before the first report of nothing, or sooner
LIKELY_WEIGHT = 0.06
SIZE_SPREAD = 0.25  # of bodies of one label; common practice, no published source
UNTAUGHT_SHARE = 0.5  # so much is left to the label: an opening under a cover may have taught the wrong size
AWAY_CHANCE = 0.01

Rows = NDArray[np.float64]


def chances(
    body: BodyMemory, warmth: Sequence[float], events: Sequence[float], watts: float, share: float
) -> Chances:
    """`warmth` of each candidate as the log begins, `events` as seconds and what happened in turn, W of its level.

    `share` is the opening warmth in this room's air over that in one of 20 °C.
    """
    weights = _sizes(body)
    likely = [n for n, weight in enumerate(weights) if weight >= LIKELY_WEIGHT * max(weights)]
    opens, store = openings(body), body.store_joules or 1.0
    switches = [switch for cause in CAUSES for switch in cause]
    rows = [(one, opens[n] * share, store * SHARES[n], warmth[n]) for n in likely for one in switches]
    fits = _Bodies(rows, watts).hear(events).reshape(len(likely), len(switches))
    sizes = np.array([weights[n] for n in likely])
    found, begins = [], 0
    for cause in CAUSES:
        found.append(_over(fits[:, begins : begins + len(cause)], sizes))
        begins += len(cause)
    dial, covered, free = found
    return Chances(dial, covered, free, _away(events))


def _sizes(body: BodyMemory) -> list[float]:
    """How likely each candidate is: as the label says, and as openings taught."""
    taught = body.weights or [1.0] * len(SHARES)
    total = sum(taught)
    usual = [exp(-0.5 * (log(share) / SIZE_SPREAD) ** 2) for share in SHARES]
    return [
        size * ((1.0 - UNTAUGHT_SHARE) * one / total + UNTAUGHT_SHARE / len(SHARES))
        for size, one in zip(usual, taught, strict=True)
    ]


def _over(fits: Rows, sizes: Rows) -> float:
    """The logarithm of the mean likelihood over sizes and switches."""
    most = float(fits.max())
    each = np.exp(fits - most).mean(axis=1)
    return most + log(float((each * sizes).sum() / sizes.sum()))


def _away(events: Sequence[float]) -> float:
    reports = [what for what in events[1::2] if what in (FLOWS, NOTHING)]
    last = max((n for n, what in enumerate(reports) if what == NOTHING), default=0)
    return log(AWAY_CHANCE) * (1 + reports[:last].count(FLOWS))


class _Bodies:
    """All that is played, one cause and size in a row, its bodies side by side."""

    def __init__(self, rows: Sequence[tuple[Switch, float, float, float]], watts: float) -> None:
        def column(values: Sequence[float]) -> Rows:
            return np.array(values, dtype=np.float64)[:, None]

        self.places = (np.arange(BODIES) + 0.5) / BODIES
        drift = 1.0 + DRIFT_SHARE * np.array([NormalDist().inv_cdf(place) for place in self.places])
        self.opens = column([switch.opens * full for switch, full, _, _ in rows])
        self.closes = column([switch.closes * full for switch, full, _, _ in rows])
        self.store = column([store for _, _, store, _ in rows])
        self.watts = watts * drift[None, _mixed(7)]
        self.sheds = column([switch.sheds for switch, _, _, _ in rows]) * drift[None, _mixed(5)]
        self.warmth = column([warmth for _, _, _, warmth in rows]) + np.zeros((1, BODIES))
        self.open = self.warmth >= self.opens
        self.fits = np.zeros(len(rows))

    def hear(self, events: Sequence[float]) -> Rows:
        """Play it through; gives the logarithm of each row's likelihood."""
        on, at, first = True, 0.0, True
        for seconds, what in zip(events[::2], events[1::2], strict=True):
            if not on:
                self._rest(seconds - at)
            while on and at < seconds:
                step = min(STEP_SECONDS, seconds - at)
                self._run(step)
                at += step
            at = seconds
            if what in (OFF, ON):
                on = what == ON
            elif first and what == NOTHING:
                self._opens_first(min(seconds, OPENED_SECONDS))
                first = False
            else:
                self._told(what == NOTHING)
                first = False
        return self.fits

    def _rest(self, seconds: float) -> None:
        """Without power."""
        self.warmth = self._cooled(self.warmth, seconds)
        self.open &= self.warmth > self.closes

    def _cooled(self, warmth: Rows, seconds: float | Rows) -> Rows:
        less = EXPONENT - 1.0
        cooled = np.maximum(warmth, COLD) ** -less + less * seconds * self.sheds / self.store
        return np.asarray(cooled ** (-1.0 / less))

    def _run(self, seconds: float) -> None:
        """With the relay on, for so short a time that it switches once at most."""
        shed = self.sheds * np.maximum(self.warmth, COLD) ** EXPONENT
        up, down = (self.watts - shed) / self.store, -shed / self.store
        later = self.warmth + np.where(self.open, down, up) * seconds
        opened, closed = ~self.open & (later >= self.opens), self.open & (later <= self.closes)
        past = np.where(up > 0.0, (later - self.opens) / np.where(up > 0.0, up, 1.0), 0.0)
        later = np.where(opened, self.opens + down * np.clip(past, 0.0, seconds), later)
        past = (self.closes - later) / np.maximum(-down, 1e-9)
        later = np.where(closed, self.closes + up * np.clip(past, 0.0, seconds), later)
        self.warmth, self.open = later, (self.open | opened) & ~closed

    def _opens_first(self, seconds: float) -> None:
        """The first report of nothing: a body that does not bear it out has opened at some time before."""
        self.fits += np.log(np.where(self.open, 1.0 - WRONG_CHANCE, STARTS_CHANCE).mean(axis=1))
        opened = self._cooled(np.maximum(self.opens, self.warmth), self.places * seconds)
        self.warmth = np.where(self.open, self.warmth, np.maximum(opened, self.closes))
        self.open = np.ones_like(self.open)

    def _told(self, nothing: bool) -> None:
        """A report: what bears it out is copied over what does not, and a few begin anew."""
        bears_out = np.where(self.open == nothing, 1.0 - WRONG_CHANCE, WRONG_CHANCE)
        total = (1.0 - ANEW_SHARE) * bears_out.mean(axis=1) + ANEW_SHARE * self._chance(nothing)
        self.fits += np.log(total)
        upto = np.cumsum((1.0 - ANEW_SHARE) * bears_out / (BODIES * total[:, None]), axis=1)
        chosen = (self.places[None, :, None] > upto[:, None, :]).sum(axis=2)
        anew, chosen = chosen >= BODIES, np.minimum(chosen, BODIES - 1)
        somewhere = self.closes + (self.opens - self.closes) * self.places[_mixed(7)]
        self.warmth = np.where(anew, somewhere, np.take_along_axis(self.warmth, chosen, axis=1))
        self.open = np.where(anew, nothing, np.take_along_axis(self.open, chosen, axis=1))

    def _chance(self, nothing: bool) -> Rows:
        """How likely a report shows that, anywhere in the cycle."""
        shed = self.sheds * (0.5 * (self.opens + self.closes)) ** EXPONENT
        open_share = np.clip(1.0 - shed / self.watts, 0.0, 1.0).mean(axis=1)
        return np.asarray(open_share if nothing else 1.0 - open_share)


def _mixed(step: int) -> NDArray[np.int_]:
    """An order that goes with no other's; no step that shares a factor with their number."""
    return np.arange(BODIES) * step % BODIES
