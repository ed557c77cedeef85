"""Sentences that remember what they were made from, so that a page can say them in another language or unit.

Rules: a `Said` is its English text wherever text is wanted; a number in a template that is followed by "°" is a
temperature in °C, unless its name is in KELVINS, where it is a difference; a number may itself be a `Said` or a `When`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

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


def plain_of(sentence: str, codes: Mapping[str, str]) -> Any:
    """What a sentence was made of, JSON-able: ["=code" or template, numbers]; a time as [Unix second]; else text.

    `codes` gives the code of a known template, which is shorter.
    """
    if isinstance(sentence, When):
        return [sentence.wall]
    if not isinstance(sentence, Said):
        return sentence
    numbers = {
        name: plain_of(value, codes) if isinstance(value, str) else round(value, 3)
        for name, value in sentence.numbers.items()
    }
    code = codes.get(sentence.template)
    return [f"={code}" if code else sentence.template, numbers]


def from_plain(plain: Any, templates: Mapping[str, str], clock: Callable[[float], str]) -> str:
    """The sentence again. KeyError or ValueError where it cannot be made any more; `clock` writes a time."""
    if isinstance(plain, str):
        return plain
    if len(plain) == 1:
        return When(clock(float(plain[0])), float(plain[0]))
    first, numbers = plain
    template = templates[first[1:]] if first.startswith("=") else first
    made = {
        name: from_plain(value, templates, clock) if isinstance(value, str | list) else value
        for name, value in numbers.items()
    }
    return said(template, **made)
