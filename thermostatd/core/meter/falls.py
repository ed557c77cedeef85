"""A fall of power within a run, to a lower level or to nothing: an opening of the cut-out, or another cause.

Rules: an opening to a lower level counts at once; one to nothing counts once power is back (`returns`). Far earlier
than before, a cover makes a body open; earlier still, none does. A second switch that opens on the low element is a
body that cannot get rid of its heat.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.body.brackets import opened_at_most
from thermostatd.core.memory import Notes
from thermostatd.core.meter import lessons, news, run, stuck
from thermostatd.core.meter.diagnosis import another_level, cover, elements, suspicion
from thermostatd.core.meter.holds import held
from thermostatd.core.meter.power import Power, near
from thermostatd.core.meter.run import Happening

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

FAR_SHARE = 0.4  # an opening earlier still is none: no cover makes a body open so cold
OVERHEATS_SECONDS = 7200.0  # after its cut-out opened, rests included


def fell(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """Power fell to a lower level."""
    early = _early(notes, power, this)
    if "open" not in notes and not another_level.turned_back(case, power, this.before, this.after, early):
        notes["open"] = opening(notes, this) | {"after": this.after}
        if _may_be_its_cut_out(case, power, notes["open"]):
            _opened(case, notes, power, notes["open"])
        else:
            notes["open"]["odd"] = True  # rather its selector or an element, unless it comes back
    held(case, notes, power, this)


def gone(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """Power fell to nothing."""
    opened = notes.get("open", notes.pop("found", None))
    if (
        opened is not None
        and not opened.get("odd")
        and this.at - opened["at"] <= OVERHEATS_SECONDS
        and near(this.before, opened["after"], power.exact)
    ):
        cover.overheated(case, opened)
        if opened.get("found"):
            another_level.was_its_cut_out(case)
    else:
        notes["gone"] = opening(notes, this) | {"after": 0.0}


def opening(notes: Notes, this: Happening) -> Notes:
    """What is kept of it: when it came in its run, and how warm the body was, W."""
    return {
        "on_at": notes["on_at"],
        "before": this.before,
        "at": round(this.at, 1),
        "seconds": round(this.at - notes["on_at"], 1),
        "warmth": round(0.5 * (this.lo_warmth + this.hi_warmth), 1),
        "most": round(this.hi_warmth, 1),
    }


def _early(notes: Notes, power: Power, this: Happening) -> bool:
    """Whether that was far colder than what it stood on this level before."""
    proven = run.proven_warmth(notes, this.before, power.exact)
    return proven is not None and this.hi_warmth < suspicion.EARLY_SHARE * proven


def _may_be_its_cut_out(case: Case, power: Power, opened: Notes) -> bool:
    """Whether its cut-out may have left that. Of a body so small that a meter shows the mean of what its cover makes of
    it, any level may be that but those that its selector has."""
    if elements.is_interrupted(case, opened, power.exact):
        return not elements.is_known_level(case, opened["after"])
    return elements.may_be_left(case, opened["before"], opened["after"], power.exact)


def _opened(case: Case, notes: Notes, power: Power, opened: Notes) -> None:
    """An opening to a lower level: covered, if it comes far too early; else one to learn from."""
    proven = run.proven_warmth(notes, opened["before"], power.exact)
    share = opened["most"] / proven if proven else 1.0
    body = case.kept.body
    if body.fall is not None:  # its store may be larger than usual, and it warm yet from the run before
        share = max(share, opened_at_most(body, body.fall))
    suspected = bool(case.kept.notes.get("covered", {}).get("tries"))
    if stuck.lately(case, notes):
        pass  # how warm it was nobody knows
    elif elements.is_interrupted(case, opened, power.exact):
        cover.interrupted(case, opened)
    elif share < suspicion.EARLY_SHARE and (share >= FAR_SHARE or suspected):
        cover.opened_early(case, opened, proven or 1.0)
    elif share >= suspicion.EARLY_SHARE:
        opened["wall"] = lessons.learn(case, opened)
    news.opened(notes, opened["before"], opened["after"])
