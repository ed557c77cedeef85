"""Keeps the sum of a circuit under its breaker's continuous share, at high mains, and says who waits.

Rules: a heater counts while it is told ON, shown ON, or unknown; what draws without an order, pressed ON or not
yet OFF, has its share before all. The rest take turns (`sharing/turns.py`). An overload is shed at once, minimum
time or not; a turn that is over ends no run before its shortest time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from thermostatd.core.clock import Now
from thermostatd.core.guard.case import good
from thermostatd.core.house import Circuit, Heater, House, Room, Spot
from thermostatd.core.memory import Memory
from thermostatd.core.plug import can_be_heard
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Target, Verdict
from thermostatd.core.said import said
from thermostatd.core.sharing import need
from thermostatd.core.sharing.load import counted_amps, leaving, may_draw, share_amps
from thermostatd.core.sharing.turns import BLIND_TURN_SECONDS, TURN_SECONDS, Member, Ruling, share_out

CODE = need.CODE
Standing = tuple[str, Heater, Room | Spot]


def judge_all(
    house: House,
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    on: Mapping[str, bool],
    now: Now,
) -> dict[str, Verdict]:
    """A verdict for every heater, given what all other interlocks left on."""
    verdicts = {key: good(CODE) for key, _, _ in house.heaters()}
    standing: dict[str | None, list[Standing]] = {}
    for key, heater, place in house.heaters():
        standing.setdefault(heater.circuit, []).append((key, heater, place))
    for circuit in house.circuits:
        here = standing.get(circuit.name, [])
        members = [_member(house, memory, on[key], key, heater, place, now) for key, heater, place in here]
        if _contended(members, circuit):
            members = [
                _in_need(memory, readings, targets, member, place, now)
                for member, (_, _, place) in zip(members, here, strict=True)
            ]
        verdicts.update(_rule(memory, circuit, members, now))
    return verdicts


def _member(
    house: House, memory: Memory, wanted: bool, key: str, heater: Heater, place: Room | Spot, now: Now
) -> Member:
    kept = memory.heaters[key]
    ran = now.steady - (kept.on_since if kept.on_since is not None else now.steady)
    ordered = wanted and kept.told_on and can_be_heard(heater)  # unheard, it holds its share until it lapses
    drawing = not ordered and may_draw(kept, heater, now)
    return Member(
        key,
        counted_amps(kept, heater, house),
        wanted,
        ran if kept.told_on else None,
        drawing,
        drawing and leaving(kept, heater, now),
        kept.hand is not None and kept.hand.on,
        place.turn if isinstance(place, Spot) else None,
        heater.min_on,
        max(heater.min_on, TURN_SECONDS if can_be_heard(heater) else BLIND_TURN_SECONDS),
    )


def _contended(members: list[Member], circuit: Circuit) -> bool:
    """Whether all that may be on is more than fits: only then does it matter who needs it most."""
    return sum(member.amps for member in members if member.wanted or member.drawing) > share_amps(circuit)


def _in_need(
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    member: Member,
    place: Room | Spot,
    now: Now,
) -> Member:
    waited = need.waited_seconds(memory.heaters[member.key]) if member.ran_seconds is None else 0.0
    if not member.wanted or isinstance(place, Spot):
        return replace(member, waited=waited)
    name = place.name
    kelvin = need.need_kelvin(readings.air[name], targets[name], memory.rooms[name].air, waited, now)
    return replace(member, waited=waited, need=kelvin)


def _rule(memory: Memory, circuit: Circuit, members: list[Member], now: Now) -> dict[str, Verdict]:
    share = share_amps(circuit)
    rulings = share_out(members, share)
    verdicts = {}
    for member in members:
        ruling = rulings.get(member.key)
        runs = ruling is not None and ruling.on
        need.note_wait(memory.heaters[member.key], now, waits=ruling is not None and not runs, runs=runs)
        if ruling is not None and not ruling.on:
            beside = {"names": _holders(members, rulings, member)} if ruling.code == CODE else {}
            why = reason(ruling.code, circuit=circuit.name, amps=member.amps, share=share, **beside)
            verdicts[member.key] = Verdict(CODE, True, why, safety=ruling.over)
    return verdicts


def _holders(members: Sequence[Member], rulings: Mapping[str, Ruling], waiting: Member) -> str:
    """The rooms and spots whose heaters have the circuit now, each once."""
    on = [one.key for one in members if one.drawing or (one.key in rulings and rulings[one.key].on)]
    names = ", ".join(dict.fromkeys(key.rpartition("/")[0] for key in on if key != waiting.key))
    return names or said("others")
