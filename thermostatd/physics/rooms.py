"""A room as a thermal body: air, a skin of surfaces, and mass; and how much heat it asks for.

Rules: the network of ISO 13790 Annex C with a heat capacity on the air node, stepped in seconds
instead of hours; explicit steps whose energy balance closes exactly; W/K, J/K, °C.
The closed forms of cycles.py and the hourly method of hourly.py are named here too.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.physics.cycles import (
    OnOffCycle,
    Start,
    celsius_after,
    cycles_per_hour,
    most_cycles_per_hour,
    on_off_cycle,
    optimum_start,
    relay_oscillation,
    ripple_kelvin,
    seconds_to_reach,
    simc_pi,
    start_weight,
)
from thermostatd.physics.hourly import CLASSES, MASS_TO_SURFACE, SURFACE_TO_AIR, Hour, HourlyRoom, Weight

__all__ = [
    "CLASSES",
    "Hour",
    "HourlyRoom",
    "OnOffCycle",
    "RoomBody",
    "RoomConstants",
    "Start",
    "Weight",
    "celsius_after",
    "cycles_per_hour",
    "degree_day_kwh",
    "furnished_air",
    "heat_load_watts",
    "most_cycles_per_hour",
    "on_off_cycle",
    "optimum_start",
    "relay_oscillation",
    "ripple_kelvin",
    "room_from_floor",
    "seconds_to_reach",
    "simc_pi",
    "start_weight",
]

AIR_JOULES_PER_CUBIC_METRE_KELVIN = 1210.0


@dataclass(frozen=True, slots=True)
class RoomConstants:
    """What a room is made of: capacities J/K and conductances W/K of the five paths."""

    air_joules_per_kelvin: float
    mass_joules_per_kelvin: float
    ventilation: float
    windows: float
    surface_to_air: float
    mass_to_surface: float
    envelope: float

    def __post_init__(self) -> None:
        if min(self.air_joules_per_kelvin, self.mass_joules_per_kelvin) <= 0:
            raise ValueError("a room's heat capacities must be over zero J/K")
        if min(self.ventilation, self.windows, self.envelope) < 0 or self.surface_to_air <= 0:
            raise ValueError("a room's conductances cannot be negative")

    @classmethod
    def of(cls, room: HourlyRoom, air_joules_per_kelvin: float) -> RoomConstants:
        """The constants of a room of the hourly method, with a capacity for air and furniture."""
        return cls(
            air_joules_per_kelvin,
            room.mass_joules_per_kelvin,
            room.ventilation_watts_per_kelvin,
            room.windows_watts_per_kelvin,
            room.surface_to_air,
            room.mass_to_surface,
            room.envelope,
        )

    @property
    def longest_step_seconds(self) -> float:
        """Over this, an explicit step could leave the span of its neighbours' temperatures."""
        air = self.air_joules_per_kelvin / (self.surface_to_air + self.ventilation)
        return min(air, self.mass_joules_per_kelvin / (self.mass_to_surface + self.envelope))

    @property
    def mass_area_share(self) -> float:
        """A_m over A_tot: the mass's share of light and radiant heat (ISO 13790 C.2)."""
        mass = self.mass_to_surface / MASS_TO_SURFACE
        return min(1.0, mass / (self.surface_to_air / SURFACE_TO_AIR))

    @property
    def loss_watts_per_kelvin(self) -> float:
        """Steady heat loss of warm air to outdoors, W/K."""
        through_mass = 1.0 / (1.0 / self.envelope + 1.0 / self.mass_to_surface) if self.envelope else 0.0
        skin = self.windows + through_mass
        return self.ventilation + (1.0 / (1.0 / skin + 1.0 / self.surface_to_air) if skin else 0.0)


@dataclass(slots=True)
class RoomBody:
    """A room's state: air and mass °C. `surface_celsius` is the skin of the last step."""

    constants: RoomConstants
    air_celsius: float
    mass_celsius: float
    surface_celsius: float = 0.0

    def step(
        self,
        seconds: float,
        outdoor_celsius: float,
        to_air_watts: float = 0.0,
        to_surface_watts: float = 0.0,
        to_mass_watts: float = 0.0,
        extra_ventilation: float = 0.0,
    ) -> float:
        """Lets `seconds` pass; `extra_ventilation` W/K is an open window. Returns the loss to outdoors, W."""
        room = self.constants
        air, mass = self.air_celsius, self.mass_celsius
        to_air, to_mass, windows = room.surface_to_air, room.mass_to_surface, room.windows
        skin = (to_mass * mass + windows * outdoor_celsius + to_air * air + to_surface_watts) / (
            to_mass + windows + to_air
        )
        exchanged = (room.ventilation + extra_ventilation) * (outdoor_celsius - air)
        through = room.envelope * (outdoor_celsius - mass)
        air_watts = exchanged + to_air * (skin - air) + to_air_watts
        mass_watts = through + to_mass * (skin - mass) + to_mass_watts
        self.air_celsius = air + seconds * air_watts / room.air_joules_per_kelvin
        self.mass_celsius = mass + seconds * mass_watts / room.mass_joules_per_kelvin
        self.surface_celsius = skin
        return windows * (skin - outdoor_celsius) - exchanged - through

    @property
    def stored_joules(self) -> float:
        """Heat stored over 0 °C, J."""
        room = self.constants
        return room.air_joules_per_kelvin * self.air_celsius + room.mass_joules_per_kelvin * self.mass_celsius


def furnished_air(floor_square_metres: float, height_metres: float = 2.5, furniture: float = 4.0) -> float:
    """Capacity of a room's air and what follows it fast, J/K; `furniture` multiplies the bare air."""
    return furniture * AIR_JOULES_PER_CUBIC_METRE_KELVIN * floor_square_metres * height_metres


def heat_load_watts(
    conductance: float,
    volume_cubic_metres: float,
    changes_per_hour: float,
    difference_kelvin: float,
    floor_square_metres: float = 0.0,
    reheat_watts_per_square_metre: float = 0.0,
) -> float:
    """Design heat load (EN 12831, from memory): (ΣUA + 0.34·n·V)·Δθ + f_RH·A, W; ΣUA in W/K."""
    if min(conductance, volume_cubic_metres, changes_per_hour) < 0:
        raise ValueError("conductance, volume and air changes cannot be negative")
    steady = (conductance + 0.34 * changes_per_hour * volume_cubic_metres) * difference_kelvin
    return steady + reheat_watts_per_square_metre * floor_square_metres


def degree_day_kwh(loss_watts_per_kelvin: float, degree_days: float) -> float:
    """Heat of a season, kWh, from a loss W/K and degree days K·d."""
    return loss_watts_per_kelvin * degree_days * 24.0 / 1000.0


def room_from_floor(
    floor_square_metres: float,
    weight: Weight,
    windows: float,
    opaque: float,
    changes_per_hour: float,
    height_metres: float = 2.5,
) -> RoomConstants:
    """A room from floor area m², class, window and opaque W/K, and air changes per hour."""
    air = 0.34 * changes_per_hour * floor_square_metres * height_metres
    room = HourlyRoom.of_class(floor_square_metres, weight, windows, opaque, air)
    return RoomConstants.of(room, furnished_air(floor_square_metres, height_metres))
