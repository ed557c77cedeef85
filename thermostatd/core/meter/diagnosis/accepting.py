"""Hears of a person who has looked at a heater: what it draws and does now is right.

Rules: another level becomes the usual one; what was counted of early openings begins anew. Looked at twice without a
long run between, a heater stands as it does, and what it stands is learned anew.
"""

from __future__ import annotations

from thermostatd.core.memory import HeaterMemory, Notes
from thermostatd.core.meter.diagnosis.naming import NOTES, clear

OF_EARLY_OPENINGS = ("covered", "opens-early", "dial-down")


def accept(kept: HeaterMemory, code: str) -> None:
    """The owner has looked: what the heater draws now is right."""
    about = kept.notes.get(NOTES, {})
    if about.get("code") == code:
        if code != "dial-down" and about.get("level"):
            about["usual"] = about["level"]
        clear(about)
    if code in OF_EARLY_OPENINGS:
        kept.body.fall = None
        if code == "opens-early":
            kept.notes.pop("covered", None)
        about.pop("cycles", None)
        _count_anew(kept.notes.get("cut-out", {}))


def _count_anew(cut_out: Notes) -> None:
    """What it did before they looked says no more."""
    for one in ("log", "gone"):
        cut_out.pop(one, None)
    if cut_out.get("looked"):  # twice without a long run between: it stands so, and is learned anew
        cut_out.pop("proven", None)
        cut_out.pop("looked")
    elif "proven" in cut_out:
        cut_out["looked"] = cut_out["hot_yet"] = True
