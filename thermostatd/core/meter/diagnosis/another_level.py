"""Names what another power than usual tells: an element out, the selector moved, or that it cannot be known.

Rules: another level from switch-on that stays: higher, or lower between two runs and one of its settings, someone
turned the selector. Lower and none of its settings: an element. Lower in the middle of a run and one of its settings:
either; the meter cannot know, a look at the selector does. A slow meter never sees when it fell: either, too.
Back on its usual power nothing of this is wrong any more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis.elements import is_a_setting, may_be_left
from thermostatd.core.meter.diagnosis.naming import NOTES, clear, clear_of_level, is_of_level, name
from thermostatd.core.meter.power import Power, near
from thermostatd.core.said import said

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

LEARNING_RUNS = 2
SURELY_SHARE = 0.85  # of a level, by a meter that knows no volts
LOWER_SHARE = 0.95  # of what the file says: what was taken for usual was less


def began(case: Case, power: Power, level: float, opened: Notes | None, warm: bool, sure: bool = False) -> bool:
    """A run began on a level. True if that shows that what looked like an opening was none.

    `sure`: nothing can have opened in it yet; else a slow meter tells only by a second such run.
    """
    about = case.notes(NOTES)
    usual = about.get("usual")
    about["runs"] = min(int(about.get("runs", 0)) + 1, 99)
    if usual is None or near(level, usual, power.exact):
        about["usual"] = round(level, 1)
        about.pop("low", None)
        clear_of_level(about)
        # from another level down to the usual one, cold too: the selector was turned back
        return opened is not None and not warm and not near(opened["before"], level, power.exact)
    if level > usual:
        _higher(case, about, usual, level, power.exact)
        return False
    if warm or (is_of_level(about) and near(about["level"], level, power.exact)):
        return False
    if _times_low(about, level, power.exact) < (2 if power.slow and not sure else 1):
        return False
    in_run = opened is not None and near(opened["after"], level, power.exact)
    _lower(case, about, usual, level, in_run or _sank(case, level), power.slow)
    return in_run


def _sank(case: Case, level: float) -> bool:
    """Whether the last report of the run before was on its way to this level, too late for a second."""
    return bool(case.notes("cut-out").get("sank", 0.0) >= SURELY_SHARE * level)


def turned_back(case: Case, power: Power, before: float, after: float, early: bool) -> bool:
    """A fall to the usual level, of a heater whose selector is known to be moved: someone turned it back. Where its
    cut-out would leave that level as well, that opens only as late as before."""
    about = case.notes(NOTES)
    usual, level = about.get("usual"), about.get("level")
    if about.get("code") != "selector-moved" or usual is None or level is None:
        return False
    if not near(before, level, power.exact) or not near(after, usual, power.exact):
        return False
    if may_be_left(case, before, after, power.exact) and not early:
        return False
    clear(about)
    body = case.kept.body
    body.full_watts, body.drew_watts, body.peak_watts = after, case.kept.watts, 0.0
    body.opened, body.fell_at, body.fall, body.cool_share = False, None, None, 1.0
    return True


def rose(case: Case, power: Power, after: float) -> None:
    """In the middle of a run power rose, and no cut-out closed."""
    about = case.notes(NOTES)
    usual = about.get("usual")
    if usual is None or near(after, usual, power.exact):
        clear_of_level(about)
    elif after > usual:
        _higher(case, about, usual, after, power.exact)


def flowed(case: Case, watts: float, exact: bool) -> None:
    """All that a run too short for its meter showed: at least so much power flows. More than usual is the selector."""
    about = case.notes(NOTES)
    usual = about.get("usual")
    if usual is None:
        return
    if near(watts, usual, exact):
        clear_of_level(about)
    elif watts > usual:
        _higher(case, about, usual, watts, exact)


def was_its_cut_out(case: Case) -> None:
    """What was told of its level was what its cut-out had left."""
    clear_of_level(case.notes(NOTES))


def _times_low(about: Notes, level: float, exact: bool) -> int:
    """How many runs on end began on this low level."""
    low = about.get("low")
    count: int = low[1] + 1 if low and near(low[0], level, exact) else 1
    about["low"] = [round(level, 1), count]
    return count


def _higher(case: Case, about: Notes, usual: float, level: float, exact: bool) -> None:
    if about.get("code") is None and about["runs"] <= LEARNING_RUNS and not case.heater.settings_watts:
        about["usual"] = round(level, 1)  # too little was seen yet to say what is usual
        return
    if near(level, case.heater.watts, exact) and usual < LOWER_SHARE * case.heater.watts:
        about["usual"] = round(level, 1)  # as the file has it: what was seen before was less, or its cut-out open
        clear_of_level(about)
        return
    if about.get("code") == "selector-moved" and near(about["level"], level, exact):
        return
    why = said("It draws {level:.0f} W instead of {usual:.0f} W.", level=level, usual=usual)
    name(about, "selector-moved", why, level)


def _lower(case: Case, about: Notes, usual: float, level: float, in_run: bool, slow: bool) -> None:
    settings = case.heater.settings_watts
    if len(settings) > 1 and not is_a_setting(case, level):
        name(about, "element-out", _none_of_its_settings(usual, level), level)
    elif in_run or slow or len(settings) <= 1:
        name(about, "less-power", _fell_and_stays(usual, level, in_run), level)
    else:
        name(about, "selector-moved", _one_of_its_settings(usual, level), level)


def _none_of_its_settings(usual: float, level: float) -> str:
    return said(
        "It fell from {usual:.0f} W to {level:.0f} W, cold too, and that is none of its settings.",
        usual=usual, level=level,
    )  # fmt: skip


def _fell_and_stays(usual: float, level: float, in_run: bool) -> str:
    if in_run:
        return said(
            "It fell from {usual:.0f} W to {level:.0f} W in the middle of a run, and stays there though it has "
            "cooled.",
            usual=usual, level=level,
        )  # fmt: skip
    return said(
        "It fell from {usual:.0f} W to {level:.0f} W, and stays there though it has cooled.",
        usual=usual, level=level,
    )  # fmt: skip


def _one_of_its_settings(usual: float, level: float) -> str:
    return said(
        "It came on with {level:.0f} W instead of {usual:.0f} W; that is one of its settings.",
        usual=usual, level=level,
    )  # fmt: skip
