"""Says what keeps interrupting a heater, once the log of what its meter told makes that clear (`logbook`, `replay`).

Rules: only where something makes it suspect, or a cover is far likelier than all else; what no report will tell more of
is called what it rather looks like.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter import lessons, logbook
from thermostatd.core.meter.causes import Chances
from thermostatd.core.meter.diagnosis import cover, dial, elements, naming, suspicion
from thermostatd.core.said import said

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

DIAL_SAID = (
    "In {hours:.1f} h its {reports:.0f} reports showed power or none as a dial turned down makes it: off early, "
    "and soon back."
)
LEANS_SAID = (
    "In {hours:.1f} h its {reports:.0f} reports showed power or none rather as a cover makes it than as a dial turned "
    "down does. If nothing lies on it, look at its dial."
)
LEANS_TO_DIAL_SAID = (
    "In {hours:.1f} h its {reports:.0f} reports showed power or none rather as a dial turned down makes it than as a "
    "cover does. Look first whether something lies on it, then at its dial."
)
COVERED_SAID = (
    "In {hours:.1f} h its {reports:.0f} reports showed power or none as a cover makes it: off early, "
    "and back late."
)
AS_LIKELY_SAID = (
    "In {hours:.1f} h its {reports:.0f} reports showed power or none, which fits a cover about as well as a dial "
    "turned down. Look first whether something lies on it, then at its dial."
)
EITHER_SAID = (
    "In {hours:.1f} h its {reports:.0f} reports showed power or none as no heater does that is free. That does not "
    "tell yet whether something lies on it or its dial is turned down."
)


def judge(case: Case, notes: Notes) -> None:
    """What a slow meter told by and by may make clear what keeps interrupting the heater."""
    asked = suspicion.suspects(case)
    if not asked and logbook.flows_on(notes):
        logbook.drop(notes)
    found = logbook.read(case, notes) if logbook.is_news(notes) else None
    if found is None:
        return
    if elements.is_quick(case):  # reports so far apart show neither how early it went nor how soon it came back
        if not asked and (found.is_covered_unasked or found.is_dial):
            cover.covered(case, said(EITHER_SAID, **_read(notes)), unsure=True)
        return
    if not asked:
        if found.is_covered_unasked:  # it sheds so little that its rests hide how early it opened
            cover.covered(case, said(COVERED_SAID, **_read(notes)))
        return
    about, covered = case.notes(naming.NOTES), case.notes("covered")
    if found.is_dial and about.get("code") != "dial-down":
        dial.turned_down(case, said(DIAL_SAID, **_read(notes)))
        lessons.forget_openings_to_nothing(case, notes[logbook.NAME]["watts"])
        lessons.unlearn(case, suspicion.began_wall(case))
    elif found.is_covered and covered.get("unsure"):
        covered.update(unsure=False, evidence=said(COVERED_SAID, **_read(notes)))
    elif found.is_covered and (not covered.get("tries") or about.get("code") == "dial-down"):
        cover.covered(case, said(COVERED_SAID, **_read(notes)))
    else:
        _leans(case, notes, found)


def _leans(case: Case, notes: Notes, found: Chances) -> None:
    """What it rather is, for when no report will tell more."""
    covered = case.notes("covered")
    for name in ("leans", "leans_to_dial"):
        covered.pop(name, None)
    if covered.get("unsure") and found.leans_to_a_cover:
        covered["leans"] = said(LEANS_SAID, **_read(notes))
    elif covered.get("unsure") and found.may_be_either:
        covered["leans"] = said(AS_LIKELY_SAID, **_read(notes))
    elif covered.get("unsure") and found.leans_to_the_dial:
        covered["leans_to_dial"] = said(LEANS_TO_DIAL_SAID, **_read(notes))


def _read(notes: Notes) -> dict[str, float]:
    """What a sentence of the logbook names: its hours and reports."""
    hours, reports = logbook.length(notes)
    return {"hours": hours, "reports": reports}
