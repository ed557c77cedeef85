"""What the owner should know of a house that is taken all the same.

Rules: pure; a caution names the key it is about, what may hurt, wear or surprise, and what to do.
Local electrical codes and licensed practice decide; these checks do not replace them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from thermostatd.core.house import House
from thermostatd.core.house.cautions_hours import hour_cautions
from thermostatd.core.house.cautions_plugs import plug_cautions
from thermostatd.core.house.cautions_wiring import wiring_cautions
from thermostatd.core.house.places import heaters_of, room_sensors, rooms_of
from thermostatd.core.house.plugs import Heater
from thermostatd.core.house.remarks import Caution, Danger, KeyPath, plain
from thermostatd.core.house.rooms import Room
from thermostatd.physics.advice import Body, best_cycle
from thermostatd.physics.heater_kinds import heater_design

LOWEST_SAFE_CELSIUS = 18.0  # WHO housing and health guidelines, 2018 (second-hand)
LONGEST_WATCHED_SECONDS = 4 * 3600.0
LEAST_CARRIED_SHARE = 0.5  # with runs of five minutes it is two thirds
NORTH_AMERICAN_VOLTS = 150.0
_LOOPBACK = ("localhost", "::1", "[::1]")


def cautions(house: House) -> tuple[Caution, ...]:
    """Every caution of the house, in the order of the checks."""
    checks: tuple[Callable[[House], Iterable[Caution]], ...] = (
        _network,
        _cold_rooms,
        _rooms,
        _sensors,
        _heaters,
        _spots,
        wiring_cautions,
        plug_cautions,
        hour_cautions,
    )
    return tuple(caution for check in checks for caution in check(house))


def _here(host: str) -> bool:
    return host in _LOOPBACK or host.startswith("127.")


def _network(house: House) -> Iterator[Caution]:
    pages, broker = house.pages, house.broker
    if pages.open and not _here(pages.listen.rpartition(":")[0]):
        what = "anyone on the network may ask without joining"
        yield Caution(("pages", "open"), what, "Leave it out, and let phones join by a code")
    if broker.password_file and broker.tls is None and not _here(broker.host):
        what = "the broker's password crosses the network unprotected"
        yield Caution(("broker", "password_file"), what, "Add tls = { ca = … } under [broker]")


def _cold_rooms(house: House) -> Iterator[Caution]:
    cold = [found for path, room in rooms_of(house) for found in _cold_targets(path, room)]
    if cold:
        path, celsius = cold[0]
        others = f" (and {len(cold) - 1} more)" if len(cold) > 1 else ""
        what = f"{plain(celsius)} °C{others} is under 18 °C, the lowest the WHO (2018) calls safe"
        yield Caution(path, what, "Fine for empty rooms; keep 18 where infants, old or ill people are")


def _cold_targets(path: KeyPath, room: Room) -> Iterator[tuple[KeyPath, float]]:
    given = "household" in room.model_fields_set and "lowest" in room.household.model_fields_set
    if given and room.household.lowest < LOWEST_SAFE_CELSIUS:
        yield (*path, "household", "lowest"), room.household.lowest
    for index, step in enumerate(room.usual):
        if step.celsius < LOWEST_SAFE_CELSIUS:
            yield (*path, "usual", index, "celsius"), step.celsius


def _rooms(house: House) -> Iterator[Caution]:
    for path, room in rooms_of(house):
        if not room.heaters:
            yield Caution((*path, "heater"), "the room has no heater", "Add a [[room.heater]]")
        shortest = max((heater.min_on + heater.min_off for heater in room.heaters), default=0.0)
        if room.control == "proportional" and room.cycle < shortest:
            what = "is shorter than a heater's min_on and min_off together"
            yield Caution((*path, "cycle"), what, f'Write at least "{plain(shortest / 60)} min"')


def _sensors(house: House) -> Iterator[Caution]:
    seen: set[tuple[str, str]] = set()
    for path, sensor in room_sensors(house):
        if (sensor.topic, sensor.pointer) in seen:
            what = f'"{sensor.topic}" is read by another sensor of the house too'
            yield Caution((*path, "topic"), what, "Give each room its own sensor, or check for a copied line")
        seen.add((sensor.topic, sensor.pointer))
        if sensor.unit == "F" and house.house.mains_volts > NORTH_AMERICAN_VOLTS:
            what = "is a unit of places with 120 V: read so, 20 seems to be −7 °C, and the room is heated without end"
            yield Danger((*path, "unit"), what, "Leave it out if the sensor says °C")
        if sensor.stale_after is not None and sensor.stale_after > 3600:
            what = "heats on a reading that may be over an hour old"
            yield Caution((*path, "stale_after"), what, 'Write "60 min" or less, or leave it out')


def _spots(house: House) -> Iterator[Caution]:
    for index, spot in enumerate(house.spots):
        if spot.usual and spot.unasked is not None:
            what = "starts by itself at its usual times: radiant heat with perhaps nobody watching"
            mend = "Keep a metre clear, nothing that burns in its beam, and leave it out if nobody is surely there"
            yield Danger(("spot", index, "unasked"), what, mend)
        unwatched = [when for when in ("asleep", "away") if when in spot.heater.may_run]
        if unwatched:
            what = f"lets radiant heat run while the house is {' and '.join(unwatched)}: with nobody watching"
            yield Danger(("spot", index, "heater", "may_run"), what, 'Write may_run = ["awake"], or leave it out')
        if spot.longest > LONGEST_WATCHED_SECONDS:
            what = f"is longer than the {plain(LONGEST_WATCHED_SECONDS / 3600)} h that somebody surely stays by it"
            yield Caution(("spot", index, "longest"), what, "Write less: it can be asked for again while it runs")
        if spot.metres < 1.0:
            what = "is nearer than the metre that is to be kept clear: skin in the beam may burn"
            yield Danger(("spot", index, "metres"), what, "Sit a metre away or more")


def _heaters(house: House) -> Iterator[Caution]:
    for place in heaters_of(house):
        heater = place.heater
        if heater.settings_watts and heater.watts not in heater.settings_watts:
            choices = ", ".join(plain(watts) for watts in heater.settings_watts)
            what = f"{plain(heater.watts)} W is none of the selector's settings ({choices})"
            yield Caution((*place.path, "watts"), what, "Write the setting that the selector stands at")
        if heater.kind == "infrared" and isinstance(place.owner, Room):
            what = "under infrared the air temperature shows neither comfort nor the risk of burns"
            yield Caution((*place.path, "kind"), what, "Keep a metre clear; a [[spot]] suits it better")
        yield from _long_runs(house, place.path, heater)


def _long_runs(house: House, path: KeyPath, heater: Heater) -> Iterator[Caution]:
    """A shortest run that nearly opens the cut-out of a cold body: it has to cool almost down before the next."""
    design = heater_design(
        heater.kind, heater.watts, house.house.mains_volts, heater.settings_watts, heater.sustained_watts
    )
    sustained = design.sustained_watts()
    if heater.watts <= sustained:
        return
    body = Body(sustained, 0.0, design.tau_seconds())
    carries = best_cycle(heater.watts, body, heater.min_on, heater.min_off).mean_watts
    if carries < LEAST_CARRIED_SHARE * sustained:
        what = (
            f"in runs of {plain(heater.min_on / 60)} min a usual such heater on {plain(heater.watts)} W, spared its "
            f"own cut-out, gives less than half of the {sustained:.0f} W that it sustains"
        )
        yield Caution((*path, "min_on"), what, 'Write "5 min", or set the selector lower')
