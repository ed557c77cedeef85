"""The devices of a simulated house as the broker knows them: what they hear, and what they publish.

Rules: a plug that is away hears and says nothing and its presence says so; plug states and presence are
retained, as devices do, sensor values are not; a sensor's own time is the rehearsal's wall time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from thermostatd.core.house import MqttPlug, Presence, Sensor
from thermostatd.core.values import PlugReport
from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.payloads import Placed, document, order_in, raw_celsius, word
from thermostatd.rehearsal.sensors import RoomSensor


@dataclass(frozen=True, slots=True)
class Message:
    """One message to publish."""

    topic: str
    payload: str
    retain: bool


class Devices:
    """All devices of one simulated house that speak MQTT."""

    def __init__(self, simulated: SimulatedHouse) -> None:
        self._house = simulated
        self._plugs = {
            key: heater.plug
            for key, heater, _ in simulated.house.heaters()
            if isinstance(heater.plug, MqttPlug)
        }
        self._sensors = list(_sensors(simulated))
        self._there: dict[str, bool] = {}

    @property
    def listens(self) -> tuple[str, ...]:
        """Topics to subscribe to."""
        topics: dict[str, None] = {}
        for plug in self._plugs.values():
            topics[plug.tell] = None
            if plug.timer and plug.timer.topic:
                topics[plug.timer.topic] = None
            if plug.ask_state:
                topics[plug.ask_state.topic] = None
        return tuple(topics)

    def hear(self, topic: str, payload: str) -> None:
        """A message reaches the plugs that listen there; what they do not understand does nothing."""
        for key, plug in self._plugs.items():
            order = order_in(plug, topic, payload)
            if order is not None:
                self._house.tell(key, *order)
            elif plug.ask_state and (topic, payload) == (plug.ask_state.topic, plug.ask_state.payload):
                self._house.plug(key).measure(self._house.steady)

    def repeat(self) -> None:
        """Every device will tell its present state, as after a reconnect."""
        self._there.clear()
        for key in self._plugs:
            self._house.plug(key).changed = True
        for _, sensor, _, _ in self._sensors:
            sensor.repeat()
        self._house.foretold.repeat()

    def news(self) -> Iterator[Message]:
        """What has to be published now."""
        for key, plug in self._plugs.items():
            yield from self._plug_news(key, plug)
        for table, sensor, room, index in self._sensors:
            yield from self._sensor_news(table, sensor, room, index)
        yield from self._forecast_news()

    def _forecast_news(self) -> Iterator[Message]:
        source, now = self._house.house.house.forecast, self._house.steady
        told = self._house.foretold.news(now) if source else ()
        if source is None or not told:
            return
        numbers = [round(one * 1.8 + 32.0, 2) if source.unit == "F" else one for one in told]
        placed: list[Placed] = [(source.pointer, numbers)]
        if source.time is not None:
            wall = self._house.start + timedelta(seconds=now)
            placed.append((source.time, wall.isoformat(timespec="seconds")))
        yield Message(source.topic, document(placed), False)

    def _plug_news(self, key: str, plug: MqttPlug) -> Iterator[Message]:
        there, fresh = not self._house.plug(key).offline, self._house.plug(key).news()
        if plug.present and self._there.get(key) != there:
            self._there[key] = there
            yield _presence(plug.present, there)
        if there and fresh:
            yield from _documents(_plug_values(plug, self._house.report(key)), retain=True)

    def _sensor_news(
        self, table: Sensor, sensor: RoomSensor, room: str | None, index: int
    ) -> Iterator[Message]:
        name, there = f"sensor {room or 'outdoor'} {index}", not sensor.silent
        if table.present and self._there.get(name) != there:
            yield _presence(table.present, there)
        self._there[name] = there
        news = sensor.news()
        if news is not None:
            values = _sensor_values(table, sensor, news[0])
            if table.time is not None:
                wall = self._house.start + timedelta(seconds=news[1])
                values.setdefault(table.topic, []).append((table.time, wall.isoformat(timespec="seconds")))
            self._add_humidity(values, room, index)
            yield from _documents(values, retain=False)

    def _add_humidity(self, values: dict[str, list[Placed]], room: str | None, index: int) -> None:
        found = self._house.house.room(room) if room and index == 0 else None
        if found and found.humidity:
            percent = round(self._house.humidity(found.name))
            values.setdefault(found.humidity.topic, []).append((found.humidity.pointer, percent))


def _sensors(simulated: SimulatedHouse) -> Iterator[tuple[Sensor, RoomSensor, str | None, int]]:
    for room in simulated.house.rooms:
        pairs = zip(room.all_sensors, simulated.sensors[room.name], strict=True)
        for index, (table, sensor) in enumerate(pairs):
            yield table, sensor, room.name, index
    outdoor = simulated.house.house.outdoor
    if outdoor is not None:
        yield outdoor, simulated.outdoor_sensor, None, 0


def _presence(present: Presence, there: bool) -> Message:
    said = word(present.yes if there else present.no, present.pointer)
    return Message(present.topic, document([(present.pointer, said)]), True)


def _documents(values: dict[str, list[Placed]], retain: bool) -> Iterator[Message]:
    for topic, placed in values.items():
        yield Message(topic, document(placed), retain)


def _plug_values(plug: MqttPlug, report: PlugReport) -> dict[str, list[Placed]]:
    values: dict[str, list[Placed]] = {}
    if plug.shows and report.on is not None:
        words = (plug.shows.on or plug.on, plug.shows.off or plug.off)
        said = word(words[0] if report.on else words[1], plug.shows.pointer)
        values.setdefault(plug.shows.topic, []).append((plug.shows.pointer, said))
    for meter, value in ((plug.draws, report.watts), (plug.volts, report.volts)):
        if meter and value is not None:
            values.setdefault(meter.topic, []).append((meter.pointer, round(value / meter.scale, 4)))
    if plug.warm and report.warm_celsius is not None:
        values.setdefault(plug.warm.topic, []).append((plug.warm.pointer, report.warm_celsius))
    return values


def _sensor_values(table: Sensor, sensor: RoomSensor, celsius: float) -> dict[str, list[Placed]]:
    values: dict[str, list[Placed]] = {table.topic: [(table.pointer, raw_celsius(table, celsius))]}
    if table.battery:
        percent = round(sensor.battery_percent)
        values.setdefault(table.battery.topic, []).append((table.battery.pointer, percent))
    return values
