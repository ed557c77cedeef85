"""Smart plugs behind one face.

Rules: an adapter looks after itself (its connection, its reconnects); telling never blocks and is never
kept for later; an ON always says when it ends; stopping tells OFF.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from thermostatd.core import house as described
from thermostatd.core.values import PlugReport
from thermostatd.edge.plugs.mqtt import MqttPlug
from thermostatd.edge.plugs.simulated import Rehearsal, SimulatedPlug

__all__ = ["MqttPlug", "PlugAdapter", "Rehearsal", "SimulatedPlug", "make_plug"]


class PlugAdapter(Protocol):
    """One smart plug. Seconds are steady; `key` is the heater's, such as `study/column`."""

    key: str

    @property
    def connected(self) -> bool:
        """Whether OFF could be told since the start, as far as is known."""

    def start(self) -> None:
        """Begin connecting and tell OFF as soon as that is possible; returns at once."""

    def tell(self, on: bool, seconds: float) -> None:
        """Order ON, to lapse after some seconds, or OFF. Never blocks; dropped while there is no way."""

    def news(self) -> PlugReport | None:
        """Everything known of the plug, where something was heard since the last call; else None."""

    def stop(self) -> bool:
        """Tell OFF, try for a few seconds until it has left, and close; whether it has: else the log says so."""


def make_plug(
    key: str,
    plug: described.Plug,
    house: described.House,
    now: Callable[[], float],
    rehearsal: Rehearsal | None = None,
    *,
    own: str = "",
) -> PlugAdapter:
    """The adapter for a plug of the house file. A simulated one needs the rehearsal it is part of.

    `own` sets its connection apart from that of a daemon, which would lose it else.
    """
    if isinstance(plug, described.MqttPlug):
        return MqttPlug(key, plug, house, now, own=own)
    if not isinstance(plug, described.SimulatedPlug):
        return _other_plug(key, plug, house, now, own)
    if rehearsal is None:
        raise ValueError(f'the plug of {key} is "simulated": that works in a demo or rehearsal only')
    return SimulatedPlug(key, rehearsal)


def _other_plug(
    key: str,
    plug: described.HttpPlug | described.ProgramPlug | described.HomiePlug | described.AddedPlug,
    house: described.House,
    now: Callable[[], float],
    own: str,
) -> PlugAdapter:
    """Each kind's module loads only where a house has one."""
    from thermostatd.edge.plugs.errands import ErrandPlug

    if isinstance(plug, described.HomiePlug):
        from thermostatd.edge.plugs.homie import HomiePlug

        return HomiePlug(key, plug, house, now, own=own)
    if isinstance(plug, described.AddedPlug):
        from thermostatd.edge.plugs.added import switch_of

        return ErrandPlug(key, switch_of(plug), now, every=plug.every, patience=30.0)
    if isinstance(plug, described.HttpPlug):
        from thermostatd.edge.plugs.http import HttpSwitch

        return ErrandPlug(key, HttpSwitch(plug), now, every=plug.every, patience=2 * plug.timeout)
    from thermostatd.edge.plugs.program import ProgramSwitch

    return ErrandPlug(key, ProgramSwitch(plug), now, every=plug.every, patience=2 * plug.timeout)
