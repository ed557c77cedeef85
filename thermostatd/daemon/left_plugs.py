"""Plugs that left the house and were not told OFF yet, on the disk: a crash must not forget them.

Rules: the file is its user's alone, for addresses may hold a secret; what cannot be written or read is logged, no more.
"""

from __future__ import annotations

import json
import logging
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from thermostatd.core import house as described
from thermostatd.core.house import House

log = logging.getLogger(__name__)
NAME = "left-plugs.json"
_PLUG: TypeAdapter[described.Plug] = TypeAdapter(described.Plug)


@dataclass(frozen=True, slots=True)
class LeftPlug:
    """A heater's key, its plug as it was described, and the house with its broker; its rooms are of no use here.

    `until` is the steady second at which it is given up.
    """

    key: str
    plug: described.Plug
    house: House
    until: float


def keep_left(state: Path, plugs: Sequence[LeftPlug]) -> None:
    """Put these in the place of what was kept; durable when this returns."""
    kept, new = state / NAME, state / (NAME + ".new")
    try:
        if not plugs:
            kept.unlink(missing_ok=True)
            return
        new.unlink(missing_ok=True)
        with open(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            json.dump([_plain(one) for one in plugs], file)
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, kept)
    except (OSError, ValueError) as fault:
        log.error("plugs that left the house file could not be kept in %s: %s", state, fault)


def kept_left(state: Path) -> list[LeftPlug]:
    """What was kept; none where nothing was, or it cannot be used."""
    try:
        found = json.loads((state / NAME).read_text("utf-8"))
        return [
            LeftPlug(
                str(one["key"]),
                _PLUG.validate_python(one["plug"]),
                House.model_validate(one["house"]),
                float(one["until"]),
            )
            for one in found
        ]
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError, KeyError, ValidationError) as fault:
        log.error("plugs that left the house file cannot be read in %s: %s", state, fault)
        return []


def _plain(one: LeftPlug) -> dict[str, object]:
    house = one.house.model_dump(mode="json", by_alias=True, include={"house", "broker"})
    return {"key": one.key, "plug": one.plug.model_dump(mode="json", by_alias=True), "house": house, "until": one.until}
