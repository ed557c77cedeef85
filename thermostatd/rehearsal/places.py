"""A room, or the hall round a spot, with what comes in for free: sun, people, an open window."""

from __future__ import annotations

from math import ceil

from thermostatd.physics.comfort import saturation_pascals
from thermostatd.physics.rooms import RoomBody
from thermostatd.rehearsal.plan import PlaceTraits

OUTDOOR_HUMIDITY = 0.85
LONGEST_SECONDS = 20.0
PASCALS_PER_WATT = 2.5  # moisture that comes with people, as vapour pressure per watt of theirs


class Place:
    """One place: its body, and the heat of the coming step, W."""

    def __init__(self, traits: PlaceTraits, start_celsius: float | None) -> None:
        self.traits = traits
        celsius = traits.start_celsius if start_celsius is None else start_celsius
        self.body = RoomBody(traits.constants, celsius, celsius - 0.5, celsius)
        self.window_watts_per_kelvin = 0.0
        self.people_watts = self.sun_watts = 0.0
        self.to_air_watts = self.to_surface_watts = self.to_mass_watts = 0.0
        self.lost_watts = 0.0
        self._mass_share = traits.constants.mass_area_share
        self._moist_pascals = 450.0

    def live(self, sun_watts_per_square_metre: float, hour: float) -> None:
        """Sun and people from now on, by the wall's hour."""
        self.sun_watts = self.traits.sun_square_metres * sun_watts_per_square_metre
        self.people_watts = sum(watts for begins, ends, watts in self.traits.people if begins <= hour < ends)
        self._moist_pascals += 0.02 * (400.0 + PASCALS_PER_WATT * self.people_watts - self._moist_pascals)

    def begin(self) -> None:
        """Free heat of the coming step: people half to the air; light to mass and skin by area (ISO 13790 C.2)."""
        self.to_air_watts = 0.5 * self.people_watts
        radiant = self.sun_watts + 0.5 * self.people_watts
        self.to_mass_watts = self._mass_share * radiant
        self.to_surface_watts = radiant - self.to_mass_watts

    def warm(self, watts: float, radiant_share: float) -> None:
        """A heater's watts, part to the air and part to surfaces."""
        radiant = watts * radiant_share
        self.to_surface_watts += radiant
        self.to_air_watts += watts - radiant

    def step(self, seconds: float, outdoor_celsius: float) -> None:
        """Lets `seconds` pass."""
        pieces = ceil(seconds / LONGEST_SECONDS)
        for _ in range(pieces):
            self.lost_watts = self.body.step(
                seconds / pieces,
                outdoor_celsius,
                self.to_air_watts,
                self.to_surface_watts,
                self.to_mass_watts,
                self.window_watts_per_kelvin,
            )

    def humidity_percent(self, outdoor_celsius: float) -> float:
        """Relative humidity, %: the outdoor vapour and what people add."""
        vapour = OUTDOOR_HUMIDITY * saturation_pascals(outdoor_celsius) + self._moist_pascals
        return min(100.0 * vapour / saturation_pascals(self.body.air_celsius), 100.0)
