"""Finds the template that a plain English sentence was once made from, so that it can be said in another language.

Rules: what was kept in the memory came back as text; the templates are the catalogue's own keys; the one with the most
words of its own is taken, and text that fits none stays as it is.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable
from functools import lru_cache

from thermostatd.core.said import Said

LEAST_LETTERS = 6
LONGEST_TEXT = 400
_NUMBER = r"[+\-\u2212]?\d+(?:\.\d+)?"


class Recognised:
    """The templates of a language's catalogue."""

    def __init__(self, templates: Iterable[str]) -> None:
        """Texts without a field are no templates; nor is one that is hardly more than its fields."""
        with_letters = [(_letters(one), one) for one in templates if "{" in one]
        kept = sorted((one for one in with_letters if one[0] >= LEAST_LETTERS), reverse=True)
        self._patterns = [(template, re.compile(_pattern(template), re.DOTALL)) for _, template in kept]
        self.find = lru_cache(maxsize=512)(self._find)
        """The sentence with its template and numbers; None where it fits none."""

    def _find(self, text: str) -> Said | None:
        if len(text) > LONGEST_TEXT:
            return None
        for template, pattern in self._patterns:
            match = pattern.fullmatch(text)
            if match is not None:
                found = {name: _value(value) for name, value in match.groupdict().items()}
                return Said(text, template, found)
        return None


def _letters(template: str) -> int:
    return sum(sum(map(str.isalpha, literal)) for literal, _, _, _ in string.Formatter().parse(template))


def _pattern(template: str) -> str:
    """A field with a number's format is a number, any other is what stands there; one named twice is the same twice."""
    parts: list[str] = []
    for literal, name, form, _ in string.Formatter().parse(template):
        parts.append(re.escape(literal))
        if name and any(part.startswith(f"(?P<{name}>") for part in parts):
            parts.append(f"(?P={name})")
        elif name:
            parts.append(f"(?P<{name}>{_NUMBER if form else '.+?'})")
    return "".join(parts)


def _value(text: str) -> float | str:
    return float(text.replace("\u2212", "-")) if re.fullmatch(_NUMBER, text) else text
