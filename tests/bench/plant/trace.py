"""One run, minute by minute: true air, outdoors, targets, contacts and watts of each room, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np


@dataclass
class Trace:
    """Rows are minutes, columns rooms. `air` is the true air at the start of each minute, °C."""

    air: list[list[float]] | np.ndarray = field(default_factory=list)
    outdoor: list[float] | np.ndarray = field(default_factory=list)
    target: list[list[float]] | np.ndarray = field(default_factory=list)
    on: list[list[bool]] | np.ndarray = field(default_factory=list)
    watts: list[list[float]] | np.ndarray = field(default_factory=list)

    def add(
        self, air: list[float], outdoor: float, target: list[float], on: list[bool], watts: list[float]
    ) -> None:
        """One minute."""
        self.air.append(list(air))
        self.outdoor.append(outdoor)
        self.target.append(target)
        self.on.append(on)
        self.watts.append(watts)

    def closed(self) -> Trace:
        """The same as arrays."""
        return Trace(*(np.asarray(getattr(self, name)) for name in NAMES))

    def save(self, path: Path) -> None:
        """Keep it in a file, whole or not at all."""
        partial = path.with_suffix(".partial.npz")
        np.savez_compressed(partial, **{name: getattr(self, name) for name in NAMES})
        partial.replace(path)

    @classmethod
    def load(cls, path: Path) -> Trace:
        """One kept earlier."""
        with np.load(path) as kept:
            return cls(*(kept[name] for name in NAMES))


NAMES = ("air", "outdoor", "target", "on", "watts")
