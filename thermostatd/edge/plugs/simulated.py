"""A plug of the rehearsal, inside the process, behind the same face as a real one."""

from __future__ import annotations

from typing import Protocol

from thermostatd.core.values import PlugReport


class Rehearsal(Protocol):
    """What a simulated house offers for each plug."""

    def tell(self, key: str, on: bool, seconds: float) -> None:
        """Order a plug on, for some seconds, or off."""

    def report(self, key: str) -> PlugReport | None:
        """What the plug last reported; None before it has."""


class SimulatedPlug:
    """The plug named `key` of a rehearsal."""

    def __init__(self, key: str, rehearsal: Rehearsal) -> None:
        self.key, self._rehearsal = key, rehearsal
        self._last: PlugReport | None = PlugReport()

    @property
    def connected(self) -> bool:
        """It is always reached."""
        return True

    def start(self) -> None:
        """Tells OFF, as every start does."""
        self._rehearsal.tell(self.key, False, 0.0)

    def tell(self, on: bool, seconds: float) -> None:
        """Order ON for whole seconds, or OFF."""
        whole = int(seconds)
        self._rehearsal.tell(self.key, on and whole >= 1, float(whole) if on and whole >= 1 else 0.0)

    def news(self) -> PlugReport | None:
        """The plug's report, if it is another than last time."""
        report = self._rehearsal.report(self.key)
        if report == self._last:
            return None
        self._last = report
        return report

    def stop(self) -> bool:
        """Tells OFF."""
        self._rehearsal.tell(self.key, False, 0.0)
        return True
