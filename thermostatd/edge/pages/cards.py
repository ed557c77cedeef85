"""What the templates are given of one room and of one spot, in words and drawn."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from thermostatd.edge.pages.taps import Step


@dataclass(frozen=True, slots=True)
class LaterShown:
    """What was asked of a room for later, in words; `key` is when it begins, for taking it back."""

    celsius: str
    begins: str
    until: str
    who: str
    key: str


@dataclass(frozen=True, slots=True)
class RoomCard:
    """One room of the page."""

    name: str
    shown: str
    anchor: str
    whole: str
    decimal: str
    air: str
    target: str
    sentence: str
    code: str
    who: str
    asked: bool
    off: bool
    """Somebody turned this room off."""
    later: str
    """What was asked for later, the soonest of it."""
    until: str
    cooler: Step
    warmer: Step
    lowest: str
    highest: str
    typed_target: str
    choices: list[tuple[str, str]]
    rail: Markup
    trace: Markup
    spoken_day: str
    asks: bool
    undo: bool
    hindrance: str = ""
    """Why nothing can be asked here just now, in the place of the buttons; "" where it can."""


@dataclass(frozen=True, slots=True)
class SpotCard:
    """One spot of the page."""

    name: str
    shown: str
    anchor: str
    on: bool
    minutes_left: int
    who: str
    until: str
    sentence: str
    choices: list[int]
    more: list[int]
    longest: str
    asks: bool
    undo: bool
    felt: str = ""
    hindrance: str = ""
