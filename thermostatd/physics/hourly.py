"""The simple hourly method: five resistances, one capacitance (ISO 13790:2008 Annex C).

Rules: conductances W/K, areas m², the mass node steps by Crank–Nicolson over whole steps; heating
only (no cooling), given to the air node; the standard's own sharing of gains among the nodes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Weight = Literal["very light", "light", "medium", "heavy", "very heavy"]

# ISO 13790:2008, 12.3.1.2: heat capacity J/(m²·K) and effective mass area per floor area.
CLASSES: dict[Weight, tuple[float, float]] = {
    "very light": (80_000.0, 2.5),
    "light": (110_000.0, 2.5),
    "medium": (165_000.0, 2.5),
    "heavy": (260_000.0, 3.0),
    "very heavy": (370_000.0, 3.5),
}
SURFACE_PER_FLOOR = 4.5
SURFACE_TO_AIR = 3.45  # W/(m²·K), h_is
MASS_TO_SURFACE = 9.1  # W/(m²·K), h_ms


@dataclass(frozen=True, slots=True)
class Hour:
    """What one step gives: heating W, the mass node's mean and end, and the step's air and surface, °C."""

    heat_watts: float
    mass_mean_celsius: float
    mass_end_celsius: float
    air_celsius: float
    surface_celsius: float

    @property
    def operative_celsius(self) -> float:
        """Operative temperature of the step (ISO 13790 C.11)."""
        return 0.3 * self.air_celsius + 0.7 * self.surface_celsius


@dataclass(frozen=True, slots=True)
class HourlyRoom:
    """A room of the simple hourly method. Areas m², capacity J/K, conductances W/K."""

    surface_square_metres: float
    mass_square_metres: float
    mass_joules_per_kelvin: float
    windows_watts_per_kelvin: float
    opaque_watts_per_kelvin: float
    ventilation_watts_per_kelvin: float

    def __post_init__(self) -> None:
        if min(self.surface_square_metres, self.mass_square_metres, self.mass_joules_per_kelvin) <= 0:
            raise ValueError("areas and the mass capacity must be over zero")
        if not 0 < self.opaque_watts_per_kelvin < self.mass_to_surface:
            raise ValueError("the opaque conductance must lie between zero and 9.1 times the mass area")
        if self.windows_watts_per_kelvin < 0 or self.ventilation_watts_per_kelvin <= 0:
            raise ValueError("windows cannot be negative, ventilation must be over zero W/K")

    @classmethod
    def of_class(
        cls, floor_square_metres: float, weight: Weight, windows: float, opaque: float, air: float
    ) -> HourlyRoom:
        """A room from its floor area and building class; `windows`, `opaque` and `air` exchange in W/K."""
        capacity, share = CLASSES[weight]
        return cls(
            SURFACE_PER_FLOOR * floor_square_metres,
            share * floor_square_metres,
            capacity * floor_square_metres,
            windows,
            opaque,
            air,
        )

    @property
    def mass_to_surface(self) -> float:
        """H_tr,ms, W/K."""
        return MASS_TO_SURFACE * self.mass_square_metres

    @property
    def surface_to_air(self) -> float:
        """H_tr,is, W/K."""
        return SURFACE_TO_AIR * self.surface_square_metres

    @property
    def envelope(self) -> float:
        """H_tr,em, W/K: mass to outdoors, in series with the mass-to-surface part."""
        return 1.0 / (1.0 / self.opaque_watts_per_kelvin - 1.0 / self.mass_to_surface)

    def gains(self, internal_watts: float, solar_watts: float) -> tuple[float, float, float]:
        """Gains given to air, surface and mass (C.1 to C.3), W; the rest leaves through the windows."""
        radiant = 0.5 * internal_watts + solar_watts
        mass = self.mass_square_metres / self.surface_square_metres
        lost = self.windows_watts_per_kelvin / (MASS_TO_SURFACE * self.surface_square_metres)
        return 0.5 * internal_watts, (1.0 - mass - lost) * radiant, mass * radiant

    def free(
        self,
        mass_celsius: float,
        outdoor_celsius: float,
        internal_watts: float,
        solar_watts: float,
        heat_watts: float,
        seconds: float = 3600.0,
    ) -> Hour:
        """One step with a given heating power (C.4 to C.10)."""
        air, surface, mass = self.gains(internal_watts, solar_watts)
        air += heat_watts
        h1 = 1.0 / (1.0 / self.ventilation_watts_per_kelvin + 1.0 / self.surface_to_air)
        h2 = h1 + self.windows_watts_per_kelvin
        h3 = 1.0 / (1.0 / h2 + 1.0 / self.mass_to_surface)
        supply = outdoor_celsius + air / self.ventilation_watts_per_kelvin
        arriving = surface + self.windows_watts_per_kelvin * outdoor_celsius + h1 * supply
        total = mass + self.envelope * outdoor_celsius + h3 * arriving / h2
        inertia, half = self.mass_joules_per_kelvin / seconds, 0.5 * (h3 + self.envelope)
        mass_end = (mass_celsius * (inertia - half) + total) / (inertia + half)
        mean = 0.5 * (mass_celsius + mass_end)
        joint = self.mass_to_surface + self.windows_watts_per_kelvin + h1
        skin = (self.mass_to_surface * mean + arriving) / joint
        room = self.surface_to_air * skin + self.ventilation_watts_per_kelvin * outdoor_celsius + air
        room_celsius = room / (self.surface_to_air + self.ventilation_watts_per_kelvin)
        return Hour(heat_watts, mean, mass_end, room_celsius, skin)

    def hour(
        self,
        mass_celsius: float,
        outdoor_celsius: float,
        set_celsius: float,
        internal_watts: float = 0.0,
        solar_watts: float = 0.0,
        limit_watts: float = float("inf"),
        seconds: float = 3600.0,
    ) -> Hour:
        """One step that holds `set_celsius` of air as far as a heater of `limit_watts` can (C.4.2)."""
        idle = self.free(mass_celsius, outdoor_celsius, internal_watts, solar_watts, 0.0, seconds)
        if idle.air_celsius >= set_celsius:
            return idle
        trial = self.free(mass_celsius, outdoor_celsius, internal_watts, solar_watts, 1000.0, seconds)
        needed = 1000.0 * (set_celsius - idle.air_celsius) / (trial.air_celsius - idle.air_celsius)
        heat = min(needed, limit_watts)
        return self.free(mass_celsius, outdoor_celsius, internal_watts, solar_watts, heat, seconds)
