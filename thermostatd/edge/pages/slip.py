"""A refusal, to be shown beside the field it belongs to."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Slip:
    """`place` is what was asked of, `wrong` the field at fault; `typed` is what was written, by field."""

    place: str
    sentence: str
    wrong: str = ""
    typed: dict[str, str] = field(default_factory=dict)
