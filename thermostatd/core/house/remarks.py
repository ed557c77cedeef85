"""What is said about a place in the house file: the key path in the file's own words, what, and the mend."""

from __future__ import annotations

from dataclasses import dataclass

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark. `path` is such as ("room", 0, "heater", 1, "watts"); an index counts from 0."""

    path: KeyPath
    what: str
    mend: str


@dataclass(frozen=True, slots=True)
class Clash(Remark):
    """Two statements of the file that cannot both hold. The file is refused."""


@dataclass(frozen=True, slots=True)
class Caution(Remark):
    """Something that may hurt, wear or surprise. The file is taken all the same."""


@dataclass(frozen=True, slots=True)
class Danger(Caution):
    """A caution of fire, burns or heat without end: it is told before the others."""


def plain(number: float) -> str:
    """A number for people: at most two decimals, no trailing zeros."""
    return f"{number:.2f}".rstrip("0").rstrip(".")
