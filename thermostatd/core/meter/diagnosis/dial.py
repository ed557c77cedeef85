"""Tells the dial on the heater, turned down, from a cover by how power comes back from nothing.

Rules: to nothing and back, early, again and again and soon: the dial. A cut-out lets the body cool longer, under a
cover longer still, or leaves the low element. A slow meter does not tell how soon: what can be a cover is called one.
Kinds with a small store are soon back from either: only how early they went tells a dial far down.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis.cover import covered
from thermostatd.core.meter.diagnosis.elements import (
    is_interrupted,
    is_quick,
    leaves_an_element,
    openings_seen,
)
from thermostatd.core.meter.diagnosis.naming import NOTES, minutes, name
from thermostatd.core.meter.diagnosis.suspicion import CYCLES_SECONDS, EARLY_SHARE
from thermostatd.core.meter.power import Power
from thermostatd.core.meter.warmth import tau_seconds
from thermostatd.core.said import said

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

SOON_SECONDS, SOON_UNLEARNED_SECONDS, FAR_SHARE = 600.0, 480.0, 0.45
MOST_CYCLES = 6
LEARNED_RUNS = 2
SLOW_LEARNED_RUNS = 12  # a slow meter has hardly seen it warm before: "earlier than before" says little
SURELY_EARLY_SHARE = 0.79


def turned_down(case: Case, evidence: str) -> None:
    """Its dial is turned down: what was taken for a cover was that."""
    name(case.notes(NOTES), "dial-down", evidence)
    case.notes("covered").clear()


def may_be_turned_down(case: Case, evidence: str) -> None:
    """Rather the dial than a cover: told beside `opens-early`, which keeps it off until someone has looked."""
    name(case.notes(NOTES), "dial-down", evidence)


def came_back(
    case: Case, power: Power, gone: Notes, off_seconds: float, proven: float | None, unsure: bool = False
) -> bool:
    """Power went to nothing early and is back: the dial, or a cover. True once it is named the dial.

    `unsure`: what was told so far may be either.
    """
    about = case.notes(NOTES)
    _count(case, about, _share_stood(case, power, gone, proven), off_seconds)
    early = [one for one in about["cycles"] if one[1] < EARLY_SHARE]
    if len(early) < 2:
        return False
    off = min(one[2] for one in early)  # the relay's rests, and short runs that were missed, make the others longer
    most = max(one[1] for one in early)
    about["cycles"] = []
    if _is_dial(case, gone["before"], off, most, power.slow):
        name(about, "dial-down", _soon_back(len(early), off, most))
        about["share"] = most
        return True
    if about.get("code") == "dial-down":
        return False  # as was told already
    unsure = unsure or is_quick(case)
    covered(case, _either(len(early), most) if unsure else _late_back(len(early), off, most), unsure)
    return False


def _share_stood(case: Case, power: Power, gone: Notes, proven: float | None) -> float:
    """At which share of what it stood before it went; 1 where it is not known well enough to be called early."""
    runs = int(case.notes(NOTES).get("runs", 0))
    learned = runs >= (SLOW_LEARNED_RUNS if power.slow else LEARNED_RUNS)
    share: float = gone["most"] / proven if learned and proven else 1.0
    # however late: its cut-out would have left the low one; or it has stood that for as long as it was on
    is_early = leaves_an_element(case, gone["before"]) or is_interrupted(case, gone, power.exact)
    return min(share, SURELY_EARLY_SHARE) if is_early else share


def _count(case: Case, about: Notes, share: float, off_seconds: float) -> None:
    """Keep what went and came back lately: when, at which share, and for how long it was gone, s."""
    now = case.now.steady
    lately = [one for one in about.get("cycles", []) if now - one[0] < CYCLES_SECONDS]
    about["cycles"] = [*lately, [now, round(share, 2), round(off_seconds)]][-MOST_CYCLES:]


def _is_dial(case: Case, before: float, off_seconds: float, most: float, slow: bool) -> bool:
    """A dial closes again after a few kelvins; a cut-out lets the body cool for long, under a cover longer still.

    A slow meter does not tell how soon: what can be a cover is called one.
    """
    if is_quick(case):
        return most < FAR_SHARE
    facts = case.kept.facts
    leaves, takes_all = openings_seen(case, before)
    if leaves > takes_all:
        return True  # this heater's cut-out leaves the low element
    if slow or leaves_an_element(case, before):
        return leaves_an_element(case, before)
    if facts.body_tau_seconds is not None:
        return off_seconds * tau_seconds(case.heater.kind) / facts.body_tau_seconds < SOON_SECONDS
    return off_seconds < SOON_UNLEARNED_SECONDS or most < FAR_SHARE


def _soon_back(times: int, off_seconds: float, share: float) -> str:
    return said(
        "Power went to nothing and came back {times:.0f} times, within {minutes:.0f} min, "
        "at {share:.0f} % of the warmth that it has stood before.",
        times=times,
        minutes=minutes(off_seconds),
        share=100 * share,
    )


def _late_back(times: int, off_seconds: float, share: float) -> str:
    return said(
        "Power went out {times:.0f} times, at {share:.0f} % of the warmth that it has stood before, "
        "and needed {minutes:.0f} min to come back.",
        times=times,
        share=100 * share,
        minutes=minutes(off_seconds),
    )


def _either(times: int, share: float) -> str:
    return said(
        "Power went out {times:.0f} times, at {share:.0f} % of the warmth that it has stood before. "
        "That does not tell yet whether something lies on it or its dial is turned down.",
        times=times,
        share=100 * share,
    )
