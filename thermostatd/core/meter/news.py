"""Counts what a heater's cut-out did, and notes it for the record, which tells of it."""

from __future__ import annotations

from thermostatd.core.memory import Notes


def opened(notes: Notes, before: float, after: float) -> None:
    """It opened: so many watts before, and after."""
    notes["openings"] = int(notes.get("openings", 0)) + 1
    _say(notes, "cut-out-opened", before=before, after=after)


def went_off(notes: Notes, before: float) -> None:
    """It went from so many watts to nothing and came back, as under a cover or at its dial."""
    notes["openings"] = int(notes.get("openings", 0)) + 1
    _say(notes, "went-off", before=before)


def closed(notes: Notes, watts: float) -> None:
    """It closed: so many watts flow."""
    _say(notes, "cut-out-closed", watts=watts)


def _say(notes: Notes, code: str, **numbers: float) -> None:
    notes.setdefault("news", []).append([code, numbers])
