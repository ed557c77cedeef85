"""The last good house file, kept in the state folder: what `run` goes on with, and `all-off` tells as well, where the
file has become wrong.

Rules: it is the file's own text, for its user alone, under a first line that names the file it is of; it is taken for
that file only; names of files in it count from that file's folder.
"""

from __future__ import annotations

import logging
import os
from pathlib import Path
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.edge.house_file import inspect_house

log = logging.getLogger(__name__)
NAME = "last-good-house.toml"


def keep_house(state: Path, path: Path, text: str) -> None:
    """Keep a text that is in force; what cannot be kept is logged, no more."""
    wanted, kept, new = _first_line(path) + text, state / NAME, state / (NAME + ".new")
    try:
        if kept.exists() and kept.read_text("utf-8") == wanted:
            return
        new.unlink(missing_ok=True)
        with open(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
            file.write(wanted)
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, kept)
    except (OSError, ValueError) as fault:
        log.error("the good house file could not be kept in %s: %s", state, fault)


def kept_house(state: Path, path: Path) -> House | None:
    """The house of the last good text of this very file; None where none was kept, or it cannot be used any more."""
    kept = state / NAME
    try:
        with open(kept, encoding="utf-8") as file:
            if file.readline() != _first_line(path):
                return None
    except (OSError, ValueError):
        return None
    return inspect_house(path, text_of=kept).house


def kept_zone(state: Path) -> ZoneInfo | None:
    """The zone of the house whose last good text a state folder holds; None where it holds none of use."""
    kept = inspect_house(state / NAME).house if (state / NAME).exists() else None
    return ZoneInfo(kept.house.timezone) if kept is not None else None


def _first_line(path: Path) -> str:
    name = "".join(sign if sign.isprintable() else " " for sign in os.path.abspath(path))
    return f"# A copy, kept by thermostatd while it was sound, of {name}\n"
