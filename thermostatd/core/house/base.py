"""What every table of the house file has in common.

Rules: frozen; an unknown key is a fault; a value of another type is a fault (no "1300" for 1300,
no true for 1), save that a whole number may stand for a decimal and a list for a tuple.
"""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, model_validator


class Table(BaseModel):
    """One table of the house file."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, use_attribute_docstrings=True, strict=True
    )

    @model_validator(mode="before")
    @classmethod
    def _lists_as_tuples(cls, given: Any) -> Any:
        if not isinstance(given, dict):
            return given
        return {key: tuple(value) if isinstance(value, list) else value for key, value in given.items()}
