"""Every room, heater and spot of a house with its key path in the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from thermostatd.core.house import House
from thermostatd.core.house.plugs import Heater
from thermostatd.core.house.remarks import KeyPath
from thermostatd.core.house.rooms import Room, Spot
from thermostatd.core.house.sensors import Sensor


@dataclass(frozen=True, slots=True)
class Place:
    """One heater, where it stands, and where the file says so."""

    path: KeyPath
    heater: Heater
    owner: Room | Spot

    @property
    def key(self) -> str:
        """The heater's key in the one namespace."""
        return f"{self.owner.name}/{self.heater.name}"


def rooms_of(house: House) -> Iterator[tuple[KeyPath, Room]]:
    """Each room with its path."""
    for index, room in enumerate(house.rooms):
        yield ("room", index), room


def heaters_of(house: House) -> Iterator[Place]:
    """Each heater of rooms and spots with its path."""
    for path, room in rooms_of(house):
        for index, heater in enumerate(room.heaters):
            yield Place((*path, "heater", index), heater, room)
    for index, spot in enumerate(house.spots):
        yield Place(("spot", index, "heater"), spot.heater, spot)


def room_sensors(house: House) -> Iterator[tuple[KeyPath, Sensor]]:
    """Every sensor of a room, with its key path."""
    for path, room in rooms_of(house):
        if room.sensor:
            yield (*path, "sensor"), room.sensor
        for index, sensor in enumerate(room.sensors):
            yield (*path, "sensors", index), sensor
