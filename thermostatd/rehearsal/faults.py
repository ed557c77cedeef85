"""What can break in a rehearsal, by name.

Rules: a heater's faults are given by its key, a room's by its name; an unknown name or fault is an error
that lists what there is; `mend` ends every fault of that key. Options are given by keyword.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import TYPE_CHECKING

from thermostatd.rehearsal.plugs import HeatedPlug
from thermostatd.rehearsal.sensors import RoomSensor

if TYPE_CHECKING:
    from thermostatd.rehearsal.house import SimulatedHouse

OPEN_WINDOW_WATTS_PER_KELVIN = 60.0


class Faults:
    """The faults of one simulated house.

    Heaters: covered, knocked_over, dial_down(celsius=40), element_burnt(index), fuse_gone, contact_welded,
    unplugged, selector_moved(watts), carried_to(room), bad_socket(ohms=1.5), plug_offline, plug_reboots_on.
    Rooms: silent, stuck, value(x), battery_low(percent=8), each with sensor=index for one of several;
    window_open(watts_per_kelvin=60). "outdoor" takes the sensors' faults.
    """

    def __init__(self, house: SimulatedHouse) -> None:
        self._house = house
        self._heater: dict[str, Callable[..., None]] = {
            "covered": _covered,
            "knocked_over": _knocked_over,
            "dial_down": _dial_down,
            "element_burnt": _element_burnt,
            "fuse_gone": _fuse_gone,
            "contact_welded": _welded,
            "unplugged": _unplugged,
            "selector_moved": self._selector_moved,
            "carried_to": self._carried_to,
            "bad_socket": _bad_socket,
            "plug_offline": _offline,
            "plug_reboots_on": self._reboots_on,
        }
        self._sensor: dict[str, Callable[..., None]] = {
            "silent": _silent,
            "stuck": _stuck,
            "value": _value,
            "battery_low": _battery_low,
        }

    @property
    def heater_kinds(self) -> tuple[str, ...]:
        """Faults that a heater can have."""
        return tuple(self._heater)

    @property
    def room_kinds(self) -> tuple[str, ...]:
        """Faults that a room can have."""
        return (*self._sensor, "window_open")

    def begin(self, key: str, kind: str, **how: float | str) -> None:
        """Orders a fault; see the class for names and options."""
        if key in self._house.plugs:
            _one_of(kind, self._heater)(self._house.plugs[key], **how)
        elif key == "outdoor" or key in self._house.sensors:
            self._begin_in_room(key, kind, **how)
        else:
            there = ", ".join((*self._house.plugs, *self._house.sensors, "outdoor"))
            raise KeyError(f'nothing is called "{key}" here; there are: {there}')

    def _begin_in_room(self, room: str, kind: str, **how: float | str) -> None:
        if kind == "window_open" and room != "outdoor":
            watts = float(how.get("watts_per_kelvin", OPEN_WINDOW_WATTS_PER_KELVIN))
            self._house.places[room].window_watts_per_kelvin = watts
            return
        act = _one_of(kind, self._sensor)
        index = how.pop("sensor", None)
        for number, sensor in enumerate(self._sensors(room)):
            if index is None or number == index:
                act(sensor, **how)

    def _sensors(self, room: str) -> list[RoomSensor]:
        return [self._house.outdoor_sensor] if room == "outdoor" else self._house.sensors[room]

    def mend(self, key: str) -> None:
        """Ends every fault of a heater, a room or the outdoor sensor."""
        if key in self._house.plugs:
            self._house.plugs[key].mend()
            return
        if key != "outdoor" and key not in self._house.sensors:
            raise KeyError(f'nothing is called "{key}" here')
        for sensor in self._sensors(key):
            sensor.mend()
        if key != "outdoor":
            self._house.places[key].window_watts_per_kelvin = 0.0

    def _selector_moved(self, plug: HeatedPlug, watts: float) -> None:
        plug.heater.selection = plug.heater.design.nearest_selection(
            watts, self._house.house.house.mains_volts
        )

    def _carried_to(self, plug: HeatedPlug, room: str) -> None:
        if room not in self._house.places:
            raise KeyError(f'no place "{room}" to carry it to; there are: {", ".join(self._house.places)}')
        plug.place = room

    def _reboots_on(self, plug: HeatedPlug) -> None:
        plug.reboot_on(self._house.steady)


def _one_of(kind: str, known: dict[str, Callable[..., None]]) -> Callable[..., None]:
    if kind not in known:
        raise ValueError(f'no fault "{kind}" for this; there are: {", ".join(known)}')
    return known[kind]


def _covered(plug: HeatedPlug) -> None:
    plug.heater.covered = True


def _knocked_over(plug: HeatedPlug) -> None:
    plug.heater.tipped = True


def _dial_down(plug: HeatedPlug, celsius: float = 40.0) -> None:
    plug.heater.dial_celsius = celsius


def _element_burnt(plug: HeatedPlug, index: int | None = None) -> None:
    used = plug.heater.design.selections[plug.heater.selection].elements
    plug.heater.burnt |= {used[-1] if index is None else int(index)}


def _fuse_gone(plug: HeatedPlug) -> None:
    plug.heater.fuse_open = True


def _welded(plug: HeatedPlug) -> None:
    plug.set_weld(True)


def _unplugged(plug: HeatedPlug) -> None:
    plug.unplugged = True


def _bad_socket(plug: HeatedPlug, ohms: float = 1.5) -> None:
    if not 0 <= ohms < inf:
        raise ValueError("a bad contact has some ohms, not negative")
    plug.series_ohms = ohms


def _offline(plug: HeatedPlug) -> None:
    plug.offline = True


def _silent(sensor: RoomSensor) -> None:
    sensor.silent = True


def _stuck(sensor: RoomSensor) -> None:
    sensor.stuck = True


def _value(sensor: RoomSensor, x: float) -> None:
    sensor.says = float(x)


def _battery_low(sensor: RoomSensor, percent: float = 8.0) -> None:
    sensor.battery_percent = percent
