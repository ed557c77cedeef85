"""What the first report of a run tells: on its usual level, still open, on another level, or gone meanwhile.

Rules: low power of a body that is warm yet may be its cut-out, open still; on a cold one it is another level, and what
was taken for an opening is taken back. A body under a cover stays hot for longer. Told late, the first report of a run
may have missed that it opened, and only a cold start decides.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter import lessons, run, stuck
from thermostatd.core.meter.diagnosis import another_level, cover, elements, naming
from thermostatd.core.meter.falls import opening
from thermostatd.core.meter.holds import held
from thermostatd.core.meter.power import Power, near
from thermostatd.core.meter.returns import SLOW_BACK_SECONDS, back, is_over
from thermostatd.core.meter.run import Happening
from thermostatd.core.meter.warmth import later, tau_seconds

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

COLD_SHARE, SURELY_COLD_SHARE, COVERED_COLD_SHARE = 0.4, 0.12, 0.05
HOT_SHARE = 0.5  # a cover opens it from about two thirds of the rise at which it opens free
SOON_SECONDS = 120.0  # no cold body opens so soon
FOUND_SECONDS = 2400.0  # on its low element a covered body opens its second switch sooner


def started(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """The first report of a run."""
    if not this.after:
        _started_on_nothing(case, notes, power, this)
        return
    opened = notes.get("open")
    if notes.get("gone") is not None:
        back(case, notes, power, this.after, this.lo_at)
    if opened is not None and is_over(case, notes, opened, this.after, power.exact):
        opened = None
    if opened is not None and _covered_and_open(case, opened, power, this):
        return
    if power.slow and case.kept.body.opened:
        return  # it may have opened within this run, or be open yet: told so late, only a cold start decides
    if opened is None and _may_be_found_open(case, notes, power, this.after):
        opened = notes["open"]
    warm = opened is not None and _is_warm(case, notes, power, opened, this.lo_warmth)
    _begins(case, notes, power, this.after, warm)
    held(case, notes, power, this)


def _started_on_nothing(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """The first that a slow meter shows of a run is nothing, and power flowed lately: it went in between. Where a
    cut-out would leave an element that is all its dial's doing; elsewhere it may have been open yet."""
    usual: float | None = case.kept.notes.get(naming.NOTES, {}).get("usual")
    flowed = power.at - notes.get("flowed_at", -inf)
    if usual is None or not power.slow or "gone" in notes or not 0.0 < flowed <= SLOW_BACK_SECONDS:
        return
    if elements.leaves_an_element(case, usual):
        most = later(notes["cold"], usual, power.at - notes["on_at"], tau_seconds(case.heater.kind))
        before = Happening("gone", usual, 0.0, this.lo_at, this.hi_at, notes["cold"], most)
        notes["gone"] = opening(notes, before) | {"after": 0.0}


def _covered_and_open(case: Case, opened: Notes, power: Power, this: Happening) -> bool:
    """A body under a cover cools so slowly that its cut-out is open yet: low power is no other level before an hour."""
    suspected = bool(case.kept.notes.get("covered", {}).get("tries"))
    hot = this.lo_warmth > COVERED_COLD_SHARE * opened["warmth"] and not opened.get("odd")
    if not suspected or not hot or not near(this.after, opened["after"], power.exact):
        return False
    cover.still_open(case, this.lo_at - opened["at"])
    return True


def _is_warm(case: Case, notes: Notes, power: Power, opened: Notes, warmth: float) -> bool:
    """Whether the body is too warm for low power to be another level, since that opened."""
    if power.slow:
        return bool(warmth > COLD_SHARE * opened["warmth"])
    return (stuck.lately(case, notes) or _may_be_open_yet(opened, warmth)) and not opened.get("odd")


def _may_be_open_yet(opened: Notes, warmth: float) -> bool:
    """Whether its cut-out may be open still: a cover keeps a body hot for long, but on its low element not for long."""
    ran_long = opened.get("ran", 0.0) >= FOUND_SECONDS
    return bool(warmth > (COLD_SHARE if ran_long else SURELY_COLD_SHARE) * opened["warmth"])


def _may_be_found_open(case: Case, notes: Notes, power: Power, level: float) -> bool:
    """Less than usual after a short rest of a hot body: a cover thrown over it opens its cut-out while it is off."""
    usual = case.notes(naming.NOTES).get("usual")
    if power.slow or usual is None or level >= usual or near(level, usual, power.exact):
        return False
    proven = run.proven_warmth(notes, usual, power.exact)
    hot = proven if stuck.lately(case, notes) else notes.get("hot", 0.0)
    if naming.is_less(case.kept) or not proven or not hot or hot < HOT_SHARE * proven:
        return False
    if not elements.may_be_left(case, usual, level, power.exact):
        return False
    hot = round(hot, 1)
    notes["open"] = {
        "on_at": notes["on_at"], "before": usual, "after": level, "at": notes["on_at"], "seconds": 0.0,
        "warmth": hot, "most": hot, "found": True,
    }  # fmt: skip
    return True


def _begins(case: Case, notes: Notes, power: Power, level: float, warm: bool) -> None:
    """A run began on a level: what was taken for open is another level, if the body is cold by now."""
    opened = notes.get("open")
    found = opened is not None and bool(opened.get("found"))
    if another_level.began(case, power, level, None if found else opened, warm, _is_sure(case, notes, power)):
        lessons.take_back(case, notes)
    elif found and not warm:
        notes["found"] = notes.pop("open")


def _is_sure(case: Case, notes: Notes, power: Power) -> bool:
    """Whether nothing can have opened in this run yet: it began cold, and that is told soon."""
    if stuck.lately(case, notes):
        return False
    stood = max((one[1] for one in notes.get("proven", [])), default=0.0)
    return bool(power.at - notes["on_at"] <= SOON_SECONDS and notes.get("cold", stood) < SURELY_COLD_SHARE * stood)
