"""What was found on the broker: sensors and plugs, each with its evidence. Pure.

Rules: what introduces itself by the open convention is taken at its word and left out of the guessing; topics
of one device are put together by what their names have in common.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from thermostatd.edge import homie
from thermostatd.edge.listening import shapes, words
from thermostatd.edge.listening.commands import Orders, orders_of
from thermostatd.edge.listening.ear import Ear, Trail
from thermostatd.edge.listening.shapes import Contact, Meter, Presence, Temperature

Beside = TypeVar("Beside", Meter, Temperature)


@dataclass(frozen=True, slots=True)
class FoundSensor:
    """One thing that tells a temperature."""

    name: str
    topic: str
    pointer: str
    unit: str
    scale: float
    outdoor: bool
    evidence: tuple[str, ...]
    present: Presence | None = None
    state_topic: str | None = None
    """Of a device of the convention: where its state stands."""


@dataclass(slots=True)
class FoundPlug:
    """One thing that switches. `device` is set where it introduced itself; then its orders are the convention's."""

    name: str
    contact: Contact | None = None
    orders: Orders | None = None
    draws: Meter | None = None
    volts: Meter | None = None
    warm: Temperature | None = None
    """Its own temperature, which is no room's."""
    present: Presence | None = None
    device: homie.Device | None = None
    switch: homie.Property | None = None
    evidence: tuple[str, ...] = ()
    proven: bool = False
    """Whether it was told ON and OFF by us and showed both."""
    disobeyed: bool = False
    """Whether it was told by us and did not show both: these are not its orders."""
    timer: str | None = None
    timer_proven: bool = False
    watts_seen: float | None = None
    room: str | None = None
    """The room that the owner named, or that its name fits."""

    @property
    def settled(self) -> bool:
        """Whether its order topic is more than a guess: proven by us, seen obeyed, or its own word."""
        return (
            self.proven or self.device is not None or (self.orders is not None and self.orders.sure == "seen")
        )


@dataclass(frozen=True, slots=True)
class Findings:
    """All that was found, and sentences on what could not be read."""

    sensors: tuple[FoundSensor, ...]
    plugs: tuple[FoundPlug, ...]
    notes: tuple[str, ...] = ()
    topics: int = 0
    messages: int = 0


@dataclass
class _Seen:
    """The trails by what they look like."""

    temperatures: list[Temperature] = field(default_factory=list)
    contacts: list[Contact] = field(default_factory=list)
    meters: list[Meter] = field(default_factory=list)
    volts: list[Meter] = field(default_factory=list)
    presences: list[Presence] = field(default_factory=list)
    warm: list[Temperature] = field(default_factory=list)
    """Of plugs, not of rooms."""


def find(ear: Ear) -> Findings:
    """Look through everything that was heard."""
    devices, odd = homie.devices_in(ear.whole())
    own = tuple(homie.root_topic(device.domain, device.version, device.id) + "/" for device in devices)
    every = ear.trails()
    trails = [trail for trail in every if not trail.topic.startswith(own)] if own else every
    seen = _looked_at(trails)
    sensors = [_sensor(one, seen.presences) for one in seen.temperatures]
    plugs = [plug for one in seen.contacts if (plug := _plug(one, seen, trails)) is not None]
    for device in devices:
        sensors += _sensors_of(device, every)
        plugs += _plugs_of(device, every)
    return Findings(tuple(sensors), tuple(plugs), (*odd, *_ear_notes(ear)), ear.topics, ear.messages)


def _ear_notes(ear: Ear) -> list[str]:
    notes = []
    if ear.too_large:
        notes.append(f"{ear.too_large} payloads over 16 KiB were not read")
    if ear.crowded_out:
        notes.append(f"{ear.crowded_out} messages were not kept: there are too many topics on this broker")
    return notes


def _looked_at(trails: Sequence[Trail]) -> _Seen:
    seen = _Seen()
    for trail in trails:
        if (one := shapes.temperature(trail)) is not None:
            seen.temperatures.append(one)
        elif (state := shapes.contact(trail)) is not None:
            seen.contacts.append(state)
        elif (there := shapes.presence(trail)) is not None:
            seen.presences.append(there)
    for trail in trails:
        if (mains := shapes.volts(trail)) is not None:
            seen.volts.append(mains)
        elif (watts := shapes.meter(trail, seen.contacts)) is not None:
            seen.meters.append(watts)
    seen.contacts = [one for one in seen.contacts if not _is_the_meter(one, seen)]
    seen.warm = [one for one in seen.temperatures if _is_a_plugs(one, seen)]
    seen.temperatures = [one for one in seen.temperatures if one not in seen.warm]
    return seen


def _is_the_meter(state: Contact, seen: _Seen) -> bool:
    """A power of 0 W that was never another looks like a switch's "0"; the switch stands beside it."""
    if not any(one.trail is state.trail for one in seen.meters):
        return False
    return any(one is not state and one.trail.topic == state.trail.topic for one in seen.contacts)


def _is_a_plugs(found: Temperature, seen: _Seen) -> bool:
    """Whether this warmth is a plug's own: told by what switches, and meters or is called a plug."""
    stem = words.stem(found.trail.topic)
    if all(words.stem(one.trail.topic) != stem for one in seen.contacts):
        return False
    return bool(words.hints(stem) & words.PLUGS) or any(words.stem(one.trail.topic) == stem for one in seen.meters)


def _sensor(found: Temperature, presences: Sequence[Presence]) -> FoundSensor:
    trail, stem = found.trail, words.stem(found.trail.topic)
    present = next((one for one in presences if words.stem(one.trail.topic) == stem), None)
    evidence = (found.evidence,) if present is None else (found.evidence, present.evidence)
    return FoundSensor(
        stem, trail.topic, trail.pointer, found.unit, found.scale, found.outdoor, evidence, present
    )  # fmt: skip


def _plug(state: Contact, seen: _Seen, trails: Sequence[Trail]) -> FoundPlug | None:
    """The device behind a contact's state; None where this "state" is itself where another's orders go."""
    stem = words.stem(state.trail.topic)
    others = [one for one in seen.contacts if one is not state and words.stem(one.trail.topic) == stem]
    if any((made := orders_of(one, [state.trail])) is not None and made.sure != "guess" for one in others):
        return None
    if others and words.hints(state.trail.topic) & words.COMMAND:
        return None
    orders = orders_of(state, trails)
    draws, mains, warm = _beside(state, seen.meters), _beside(state, seen.volts), _beside(state, seen.warm)
    present = next((one for one in seen.presences if words.stem(one.trail.topic) == stem), None)
    evidence = tuple(one.evidence for one in (state, draws, mains, present) if one is not None)
    evidence += (f"its own temperature, not a room's: {warm.evidence}",) if warm is not None else ()
    high = max((value * draws.scale for _, value in draws.trail.numbers), default=0.0) if draws else 0.0
    watts = high if high > 50.0 else None
    timer = orders.timer if orders else None
    return FoundPlug(
        stem, state, orders, draws, mains, warm, present, evidence=evidence, timer=timer, watts_seen=watts
    )


def _beside(state: Contact, meters: Sequence[Beside]) -> Beside | None:
    """The meter or warmth of the same topic, else of the same device."""
    stem = words.stem(state.trail.topic)
    near = [one for one in meters if words.stem(one.trail.topic) == stem]
    return next((one for one in near if one.trail.topic == state.trail.topic), near[0] if near else None)


def _trail(topic: str, trails: Sequence[Trail]) -> Trail | None:
    return next((one for one in trails if one.topic == topic and one.pointer == ""), None)


def _sensors_of(device: homie.Device, trails: Sequence[Trail]) -> list[FoundSensor]:
    found = []
    for one in device.properties:
        if one.degrees is None:
            continue
        outdoor = bool(words.hints(device.id, device.name, one.node, one.name) & words.OUTDOOR)
        said = f'{_introduced(device)}: "{one.name}" in {one.unit}, state {device.state}'
        found.append(
            FoundSensor(
                device.name, one.topic, "", one.degrees, 1.0, outdoor, (said, *_heard(one.topic, trails)),
                state_topic=device.state_topics[-1],
            )
        )  # fmt: skip
    return found


def _plugs_of(device: homie.Device, trails: Sequence[Trail]) -> list[FoundPlug]:
    found = []
    meter = next((one for one in device.properties if one.power_scale is not None), None)
    for one in device.properties:
        if one.is_switch:
            said = f'{_introduced(device)}: "{one.name}" can be set, state {device.state}'
            more = () if meter is None else (f'its meter is "{meter.name}" in {meter.unit}',)
            evidence = (said, *more, *_heard(one.topic, trails))
            timer = _timer_of(device, one)
            found.append(FoundPlug(device.name, device=device, switch=one, evidence=evidence, timer=timer))
    return found


def _introduced(device: homie.Device) -> str:
    return f"introduces itself by the Homie convention {device.version}"


def _timer_of(device: homie.Device, switch: homie.Property) -> str | None:
    """A settable number of seconds beside the switch whose words speak of off or a timer: it may end an ON."""
    for one in device.properties:
        seconds = one.settable and one.datatype in ("integer", "float") and one.unit == "s"
        if seconds and one.node == switch.node and words.hints(one.id, one.name) & {"off", "timer"}:
            return one.path
    return None


def _heard(topic: str, trails: Sequence[Trail]) -> tuple[str, ...]:
    trail = _trail(topic, trails)
    if trail is None:
        return ("no value of it was heard",)
    said = list(trail.words)[:3]
    return (f"{shapes.pace(trail)}: {', '.join(said)}",)
