"""A simulated house behind the same faces as a real one: it is told orders and gives observations.

Rules: everything follows from the house file, the seed and what is told; steps are at most `inner_seconds` (ten,
unless told otherwise) and end exactly where a plug's timer does; air and heaters step finer by themselves;
steady seconds count from the start; air, orders and faults only.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from math import inf
from random import Random
from zoneinfo import ZoneInfo

from thermostatd.core.house import House, MqttPlug, Room
from thermostatd.core.values import Moment, Observation, PlugReport, Reading
from thermostatd.rehearsal.faults import Faults
from thermostatd.rehearsal.nature import ColdSpell, Foretold, Mains, Weather
from thermostatd.rehearsal.places import Place
from thermostatd.rehearsal.plan import doors, hall_traits, heater_body, place_traits
from thermostatd.rehearsal.plugs import HeatedPlug, MeterTraits
from thermostatd.rehearsal.sensors import RoomSensor, SensorTraits

INNER_SECONDS = 10.0
SLOW_SECONDS = 60.0
OUTDOOR = SensorTraits(lag_seconds=300.0, period_seconds=120.0)


class SimulatedHouse:
    """The house of a file, brought to life from a seed. `start` is an aware datetime.

    `weather` replaces the built-in cold spell; `sensors` (by room) and `meters` (by heater key) replace
    invented traits; `start_celsius` is every room's temperature at the start. `inner_seconds` up to 60: with
    longer steps meters tell less often and doors are coarser, and a week goes by several times as fast. Heaters have
    `spare` times the power that holds 20 °C at −10 to −20 °C outdoors.
    """

    def __init__(
        self,
        house: House,
        *,
        seed: int,
        start: datetime,
        start_celsius: float | None = None,
        weather: Weather | None = None,
        sensors: Mapping[str, SensorTraits] | None = None,
        meters: Mapping[str, MeterTraits] | None = None,
        inner_seconds: float = INNER_SECONDS,
        spare: float = 1.0,
    ) -> None:
        if start.tzinfo is None:
            raise ValueError("start needs a time zone: use datetime.now(UTC)")
        if not 0 < inner_seconds <= SLOW_SECONDS:
            raise ValueError("an inner step is over zero and at most 60 s")
        self._inner_seconds, self._spare = inner_seconds, spare
        self.house, self.seed, self.start = house, seed, start.astimezone(UTC)  # seconds added to it are real ones
        self._local = start.astimezone(ZoneInfo(house.house.timezone))
        self.weather = weather or ColdSpell(seed, self._local)
        self.mains = Mains(seed, house.house.mains_volts)
        self._now = self._slow_at = 0.0
        self._outdoor = self.weather.outdoor_celsius(0.0)
        self._humidity_due: dict[str, float] = {}
        self.places: dict[str, Place] = {}
        self.sensors: dict[str, list[RoomSensor]] = {}
        self.plugs: dict[str, HeatedPlug] = {}
        for room in house.rooms:
            self._furnish(room, start_celsius, sensors or {})
        for spot in house.spots:
            self.places[spot.name] = Place(hall_traits(Random(f"hall/{seed}/{spot.name}")), start_celsius)
        self._wire(meters or {})
        self._doors = tuple((self.places[a], self.places[b], k) for a, b, k in doors(house, seed))
        self._outdoor_sensor = RoomSensor(OUTDOOR, Random(f"outdoor/{seed}"), self._outdoor)
        self.foretold = Foretold(self.weather)
        self.faults = Faults(self)
        self._slow()

    def _furnish(self, room: Room, start_celsius: float | None, traits: Mapping[str, SensorTraits]) -> None:
        rng = Random(f"room/{self.seed}/{room.name}")
        place = Place(place_traits(room, self.house.house.mains_volts, rng, self._spare), start_celsius)
        self.places[room.name] = place
        self.sensors[room.name] = [
            RoomSensor(
                traits.get(room.name) or SensorTraits.invented(rng),
                Random(f"sensor/{self.seed}/{room.name}/{index}"),
                place.body.air_celsius,
            )
            for index in range(len(room.all_sensors))
        ]

    def _wire(self, meters: Mapping[str, MeterTraits]) -> None:
        for key, heater, where in self.house.heaters():
            rng = Random(f"heater/{self.seed}/{key}")
            body = heater_body(heater, self.house.house.mains_volts, rng)
            body.body_celsius = self.places[where.name].body.air_celsius
            traits = meters.get(key) or _told_by(heater.plug, MeterTraits.invented(rng))
            self.plugs[key] = HeatedPlug(key, body, where.name, traits, rng)

    # -- time

    @property
    def steady(self) -> float:
        """Seconds since the start."""
        return self._now

    def moment(self) -> Moment:
        """Now, on both clocks."""
        return Moment(wall=self.start + timedelta(seconds=self._now), steady=self._now)

    def go_finer(self, inner_seconds: float) -> None:
        """From now on steps of at most so many seconds."""
        self._inner_seconds = min(self._inner_seconds, inner_seconds)

    def advance(self, seconds: float) -> None:
        """Lets `seconds` pass."""
        if not 0 <= seconds < inf:
            raise ValueError("a house can only go forward, by finite seconds")
        end = self._now + seconds
        while self._now < end - 1e-9:
            self._step(min(self._inner_seconds, end - self._now, self._next_lapse() - self._now))

    def _next_lapse(self) -> float:
        soonest = inf
        for plug in self.plugs.values():
            if self._now < plug.off_at < soonest:
                soonest = plug.off_at
        return soonest

    def _step(self, seconds: float) -> None:
        self._now = now = self._now + seconds
        if now >= self._slow_at:
            self._slow()
        for place in self.places.values():
            place.begin()
        for plug in self.plugs.values():
            place = self.places[plug.place]
            place.warm(
                plug.step(seconds, now, self._volts, place.body.air_celsius), plug.heater.design.radiant_share
            )
        for one, other, exchange in self._doors:
            watts = exchange * (other.body.air_celsius - one.body.air_celsius)
            one.to_air_watts += watts
            other.to_air_watts -= watts
        for name, place in self.places.items():
            place.step(seconds, self._outdoor)
            self._feel(name, seconds, place.body.air_celsius)
        self._outdoor_sensor.feel(seconds, self._outdoor)
        if now >= self._outdoor_sensor.due_at:
            self._outdoor_sensor.look(now)

    def _feel(self, name: str, seconds: float, celsius: float) -> None:
        for sensor in self.sensors.get(name, ()):
            sensor.feel(seconds, celsius)
            if self._now >= sensor.due_at:
                sensor.look(self._now)

    def _slow(self) -> None:
        now = self._now
        self._slow_at = now + SLOW_SECONDS
        self._outdoor = self.weather.outdoor_celsius(now)
        self._volts = self.mains.volts(now, sum(plug.drawn_watts for plug in self.plugs.values()))
        sun = self.weather.sun_watts_per_square_metre(now)
        hour = (self._local.hour + self._local.minute / 60.0 + now / 3600.0) % 24.0
        for place in self.places.values():
            place.live(sun, hour)

    # -- what happens to it

    def tell(self, key: str, on: bool, seconds: float) -> None:
        """An order reaches a plug; ON ends by itself after `seconds` (inf: never)."""
        self.plug(key).tell(on, seconds, self._now)

    def press(self, key: str) -> None:
        """Someone presses a plug's own button."""
        self.plug(key).press(self._now)

    def fault(self, key: str, kind: str, **how: float | str) -> None:
        """Something breaks; `Faults` lists what can, for a heater key or a room."""
        self.faults.begin(key, kind, **how)

    def mend(self, key: str) -> None:
        """Everything at this heater or room is put right."""
        self.faults.mend(key)

    # -- what it tells

    def plug(self, key: str) -> HeatedPlug:
        """The plug of a heater key; a KeyError names the keys there are."""
        try:
            return self.plugs[key]
        except KeyError:
            raise KeyError(f'no heater "{key}" here; there are: {", ".join(self.plugs)}') from None

    def report(self, key: str) -> PlugReport:
        """The last that a plug told of contact and meter, with their steady seconds."""
        return self.plug(key).report()

    def air_reading(self, room: str) -> Reading | None:
        """A room's new sensor value since the last call: of several sensors, the new ones' median."""
        news = sorted(fresh for sensor in self.sensors[room] if (fresh := sensor.news()) is not None)
        return Reading(*news[(len(news) - 1) // 2]) if news else None

    def outdoor_reading(self) -> Reading | None:
        """A new outdoor value since the last call."""
        news = self._outdoor_sensor.news()
        return Reading(*news) if news else None

    @property
    def outdoor_sensor(self) -> RoomSensor:
        """The sensor in the yard."""
        return self._outdoor_sensor

    @property
    def true_outdoor(self) -> float:
        """Outdoor air, °C."""
        return self._outdoor

    def true_air(self, room: str) -> float:
        """A room's (or a spot's hall's) air, °C, as no sensor knows it."""
        return self.places[room].body.air_celsius

    def shown_air(self, room: str) -> float:
        """The same as the room's own thermometer is calibrated, °C: without its lag, its noise and its steps."""
        offsets = [sensor.traits.offset_kelvin for sensor in self.sensors[room]]
        return self.true_air(room) + sum(offsets) / len(offsets)

    def humidity(self, room: str) -> float:
        """A room's relative humidity, %."""
        return self.places[room].humidity_percent(self._outdoor)

    def observation(self) -> Observation:
        """All the news since the last call, ready for a step of the regulator."""
        air = {
            room.name: news for room in self.house.rooms if (news := self.air_reading(room.name)) is not None
        }
        has_yard = self.house.house.outdoor is not None
        has_forecast = self.house.house.forecast is not None
        return Observation(
            air=air,
            outdoor=self.outdoor_reading() if has_yard else None,
            plugs={key: plug.report() for key, plug in self.plugs.items() if plug.news() or plug.offline},
            humidity_percent={
                room: value for room in air if (value := self._told_humidity(room)) is not None
            },
            battery_percent={
                room.name: min(sensor.battery_percent for sensor in self.sensors[room.name])
                for room in self.house.rooms
                if room.name in air and any(sensor.battery for sensor in room.all_sensors)
            },
            forecast=self.foretold.news(self._now) if has_forecast else (),
        )

    def _told_humidity(self, name: str) -> float | None:
        room = self.house.room(name)
        return round(self.humidity(name)) if room and room.humidity else None


def _told_by(plug: object, invented: MeterTraits) -> MeterTraits:
    if not isinstance(plug, MqttPlug):
        return invented
    return MeterTraits(
        invented.period_seconds,
        invented.step_watts,
        invented.lag_seconds,
        tells_watts=plug.draws is not None,
        tells_volts=plug.volts is not None,
        tells_contact=plug.shows is not None,
        tells_warm=plug.warm is not None,
    )
