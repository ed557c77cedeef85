"""Rooms, their usual week, the owner's limits, quiet hours, and spots."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from thermostatd.core.house.base import Table
from thermostatd.core.house.plugs import Heater
from thermostatd.core.house.sensors import Sensor, Source
from thermostatd.core.house.units import EVERY_DAY, ClockTime, Name, RoomCelsius, Seconds, Weekdays


class Household(Table):
    """What anyone at home may ask for; the owner's limits."""

    lowest: RoomCelsius = 12.0
    """Lowest target that anyone may ask for, °C."""
    highest: RoomCelsius = 23.0
    """Highest target that anyone may ask for, °C."""
    longest: Seconds = 24 * 3600.0
    """Longest that a request may hold."""

    @model_validator(mode="after")
    def _ordered(self) -> Household:
        if self.lowest > self.highest:
            raise ValueError("has a lowest over its highest: exchange the two")
        return self


class UsualStep(Table):
    """One step of the usual week: from this time on these days, this target."""

    days: Weekdays = EVERY_DAY
    """Days of the week: "daily", "mon-fri", "sat,sun"."""
    at: ClockTime
    """Time of day in the house's time zone."""
    celsius: RoomCelsius
    """Target from then on, °C."""


class Quiet(Table):
    """Hours in which few switchings are allowed. They may pass midnight."""

    begins: ClockTime = Field(alias="from")
    """Time of day at which they begin."""
    ends: ClockTime = Field(alias="to")
    """Time of day at which they end."""
    switches: int = Field(default=4, ge=0, le=100)
    """Switchings allowed in these hours, each ON and each OFF counted."""


class Room(Table):
    """One room: what feels it, what heats it, and what is wanted of it."""

    name: Name
    """The room's name, as people see it."""
    sensor: Sensor | None = None
    """What feels the room's air."""
    sensors: tuple[Sensor, ...] = ()
    """Several sensors: their median counts."""
    humidity: Source | None = None
    """Where the room's relative humidity is told, %."""
    control: Literal["hysteresis", "proportional", "predictive"] = "hysteresis"
    """The control law."""
    differential: float = Field(default=0.4, ge=0.05, le=3.0, allow_inf_nan=False)
    """Hysteresis: kelvins between switching on and off."""
    cycle: Seconds = 1200.0
    """Proportional: length of one on/off cycle."""
    clicks: Literal["very few", "few", "some", "many"] = "some"
    """Predictive: how often the relay may click for an even temperature."""
    household: Household = Household()
    """What anyone at home may ask for."""
    usual: tuple[UsualStep, ...] = ()
    """The usual week."""
    quiet: tuple[Quiet, ...] = ()
    """Hours with few switchings."""
    ceiling_celsius: RoomCelsius = 27.0
    """At this air temperature, °C, heating stops, whatever was asked."""
    cold_celsius: RoomCelsius = 12.0
    """Under this, °C, quiet hours no longer hold the heater back."""
    band: float = Field(default=0.5, ge=0, le=3, allow_inf_nan=False)
    """Kelvins that a tariff may shift the target by."""
    heaters: tuple[Heater, ...] = Field(default=(), alias="heater")
    """The room's heaters: one [[room.heater]] each."""

    @model_validator(mode="after")
    def _felt(self) -> Room:
        if (self.sensor is None) == (not self.sensors):
            raise ValueError('needs sensor or sensors: write one, sensor = { topic = "…" }, or sensors = []')
        return self

    @property
    def all_sensors(self) -> tuple[Sensor, ...]:
        """The room's sensors, however they were written."""
        return self.sensors or ((self.sensor,) if self.sensor else ())

    def key_of(self, heater: Heater) -> str:
        """The heater's key in the one namespace: "room/heater"."""
        return heater.kept_key or f"{self.name}/{heater.name}"


class SpotTime(Table):
    """A usual time at which a spot starts unasked, where the owner accepts that."""

    days: Weekdays = EVERY_DAY
    """Days of the week: "daily", "mon-fri", "sat,sun"."""
    at: ClockTime
    """Time of day in the house's time zone."""
    minutes: float = Field(gt=0, le=240, allow_inf_nan=False)
    """How many minutes it then runs."""


class Spot(Table):
    """A place, not a room, warmed for a stated time without a sensor."""

    name: Name
    """The spot's name, as people see it."""
    longest: Seconds = 5400.0
    """Longest that one request may run."""
    turn: Literal["first", "last"] = "first"
    """Its place on a circuit that cannot carry all: before the rooms, or after them."""
    metres: float = Field(default=1.5, ge=0.5, le=10, allow_inf_nan=False)
    """How far in front of the heater a person sits, m; only for saying how warm it feels there."""
    unasked: Literal["accepted"] | None = None
    """The owner's word that it may start at its `usual` times with nobody having asked."""
    usual: tuple[SpotTime, ...] = ()
    """Times at which it starts by itself; they need `unasked`."""
    heater: Heater
    """The radiant heater that serves it."""

    @property
    def key(self) -> str:
        """The heater's key in the one namespace: "spot/heater"."""
        return f"{self.name}/{self.heater.name}"
