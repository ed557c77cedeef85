"""Sentences that remember what they were made from, so that a page can say them in another language or unit.

Rules: a `Said` is its English text wherever text is wanted; a number in a template that is followed by "°" is a
temperature in °C, unless its name is in KELVINS, where it is a difference; a number may itself be a `Said` or a `When`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

KELVINS = frozenset({"over", "lift", "sag", "kelvins", "spread"})
_NOTHING: Mapping[str, float | str] = MappingProxyType({})


class Said(str):
    """An English sentence, its template and the numbers in it. A copy of it is plain text."""

    template: str
    numbers: Mapping[str, float | str]

    def __new__(cls, text: str, template: str = "", numbers: Mapping[str, float | str] = _NOTHING) -> Said:
        """Text made of a template by someone else."""
        made = super().__new__(cls, text)
        made.template, made.numbers = template or text.replace("{", "{{").replace("}", "}}"), numbers
        return made

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        """Kept and copied as text."""
        return str, (str(self),)


class When(str):
    """A wall time as English text; `wall` is its Unix second."""

    wall: float

    def __new__(cls, text: str, wall: float) -> When:
        """Text that stands for that moment."""
        made = super().__new__(cls, text)
        made.wall = wall
        return made

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        """Kept and copied as text."""
        return str, (str(self),)


def said(template: str, **numbers: float | str) -> Said:
    """The template with its numbers. KeyError for a number that it lacks."""
    return Said(template.format(**numbers), template, numbers)
