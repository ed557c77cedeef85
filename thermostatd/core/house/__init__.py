"""The house as the owner's file describes it: frozen, validated, no I/O.

The models are the file's schema; `edge/house_file.py` reads the file and finds the lines.
"""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import Field

from thermostatd.core.house.base import Table
from thermostatd.core.house.plug_kinds import AddedPlug, HomiePlug, HttpPlug, ProgramPlug
from thermostatd.core.house.plugs import Heater, MqttPlug, Plug, SimulatedPlug
from thermostatd.core.house.rooms import Household, Quiet, Room, Spot, UsualStep
from thermostatd.core.house.sensors import ForecastSource, Meter, Presence, Sensor, Source
from thermostatd.core.house.tables import Broker, Circuit, HouseTable, Notices, Pages, Tariff

__all__ = [
    "AddedPlug",
    "Broker",
    "Circuit",
    "ForecastSource",
    "Heater",
    "HomiePlug",
    "House",
    "HouseTable",
    "Household",
    "HttpPlug",
    "Meter",
    "MqttPlug",
    "Notices",
    "Pages",
    "Plug",
    "Presence",
    "ProgramPlug",
    "Quiet",
    "Room",
    "Sensor",
    "SimulatedPlug",
    "Source",
    "Spot",
    "Tariff",
    "UsualStep",
]

_WALKED = "walked"


class House(Table):
    """A whole house file. Fields are in the plural here and in the file's own words there."""

    house: HouseTable = HouseTable()
    """What holds for the whole house."""
    broker: Broker = Broker()
    """How the daemon reaches the MQTT broker."""
    pages: Pages = Pages()
    """Where the pages listen, and who may join."""
    circuits: tuple[Circuit, ...] = Field(default=(), alias="circuit")
    """The electrical circuits: one [[circuit]] each."""
    rooms: tuple[Room, ...] = Field(default=(), alias="room")
    """The rooms: one [[room]] each."""
    spots: tuple[Spot, ...] = Field(default=(), alias="spot")
    """Places warmed on request: one [[spot]] each."""
    tariff: Tariff | None = None
    """What electricity costs."""
    notices: Notices | None = None
    """Where troubles are told besides."""

    def room(self, name: str) -> Room | None:
        """The room of that name."""
        return next((room for room in self.rooms if room.name == name), None)

    def spot(self, name: str) -> Spot | None:
        """The spot of that name."""
        return next((spot for spot in self.spots if spot.name == name), None)

    def circuit(self, name: str | None) -> Circuit | None:
        """The circuit of that name."""
        return next((circuit for circuit in self.circuits if circuit.name == name), None)

    def heaters(self) -> tuple[tuple[str, Heater, Room | Spot], ...]:
        """Every heater with its key and the room or spot it stands in."""
        kept = self.__dict__.get(_WALKED)  # asked dozens of times a step; a copy with other rooms walks anew
        if kept is None or kept[0] is not self.rooms or kept[1] is not self.spots:
            kept = self.__dict__[_WALKED] = (self.rooms, self.spots, tuple(self._walk()))
        found: tuple[tuple[str, Heater, Room | Spot], ...] = kept[2]
        return found

    def _walk(self) -> Iterator[tuple[str, Heater, Room | Spot]]:
        for room in self.rooms:
            for heater in room.heaters:
                yield room.key_of(heater), heater, room
        for spot in self.spots:
            yield spot.key, spot.heater, spot
