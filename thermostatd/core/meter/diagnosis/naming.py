"""Keeps what is named of a heater by what its meter told: one trouble at a time, with what was seen.

Rules: it stands in the notes `meter`, beside the heater's usual power, and takes no heat away; what is named of its
level goes as soon as that is the usual one, its dial does not.
"""

from __future__ import annotations

from thermostatd.core.memory import HeaterMemory, Notes
from thermostatd.core.results import Verdict

NOTES = "meter"
OF_ITS_LEVEL = ("element-out", "selector-moved", "less-power")
NAMED = (*OF_ITS_LEVEL, "dial-down")
"""All that is named; whoever has looked may say that it is right so."""
OF_ONE_TROUBLE = ("code", "evidence", "level", "low", "cycles", "share")


def name(about: Notes, code: str, evidence: str, level: float | None = None) -> None:
    """Name a trouble, in place of what was named before; `level`: the other power that it draws, W."""
    about.update(code=code, evidence=evidence, level=level)


def clear(about: Notes) -> None:
    """Nothing is wrong any more, and nothing is counted."""
    for one in OF_ONE_TROUBLE:
        about.pop(one, None)


def clear_of_level(about: Notes) -> None:
    """What was named of its level is over; a dial stays named."""
    if is_of_level(about):
        clear(about)


def is_of_level(about: Notes) -> bool:
    """Whether it is an element or the selector that is named."""
    return about.get("code") in OF_ITS_LEVEL


def is_dial(kept: HeaterMemory) -> bool:
    """Whether its dial is known to be turned down."""
    return kept.notes.get(NOTES, {}).get("code") == "dial-down"


def is_less(kept: HeaterMemory) -> bool:
    """Whether it is known to draw another power than usual: an element, or the selector."""
    about = kept.notes.get(NOTES)
    return about is not None and is_of_level(about)


def advice(kept: HeaterMemory) -> Verdict | None:
    """What a person should know of this heater, that takes no heat away."""
    about = kept.notes.get(NOTES)
    code = about.get("code") if about else None
    if about is None or code is None:
        return None
    return Verdict(code, False, trouble=True, evidence=about["evidence"])


def minutes(seconds: float) -> float:
    """Minutes as a sentence names them: one at least."""
    return max(seconds, 60.0) / 60.0
