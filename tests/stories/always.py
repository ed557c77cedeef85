"""What holds at every step of every house, whatever happens."""

from __future__ import annotations

from thermostatd.core.guard import CODES
from thermostatd.core.house import House
from thermostatd.core.reasons import SENTENCES
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import HeaterResult, Result
from thermostatd.core.values import Reading

LONGEST_SILENCE_SECONDS = 3600.0
LONGEST_LAPSE_SECONDS = 1800.0


def hold(house: House, regulator: Regulator, result: Result, steady: float) -> None:
    """Raise AssertionError for the first rule that this step broke."""
    told_to_stop = False
    for key, heater, place in house.heaters():
        order = result.orders[key]
        room = result.rooms.get(place.name)
        passage = room.heaters[key] if room is not None else result.spots[place.name].heater
        _hold_heater(key, heater, order, passage, steady)
        if room is not None and order.on:
            assert isinstance(room.air, Reading), f"{key} is on without a good reading"
            stated = max((sensor.stale_after or 0.0 for sensor in place.all_sensors), default=0.0)
            assert steady - room.air.at <= max(stated, LONGEST_SILENCE_SECONDS), (
                f"{key} is on by an old reading"
            )
            assert -30.0 <= room.air.celsius < place.ceiling_celsius, f"{key} is on over the ceiling"
        told_to_stop = told_to_stop or any(v.code == "stopping" and v.tripped for v in passage.verdicts)
    for room in result.rooms.values():
        assert room.demand.reason.code in SENTENCES
        assert room.target.whose
    if told_to_stop:
        assert not any(order.on for order in result.orders.values())
    _hold_circuits(house, regulator, result, steady)


def _hold_heater(key: str, heater, order, passage: HeaterResult, steady: float) -> None:
    spoken = [verdict.code for verdict in passage.verdicts]
    assert spoken[-len(CODES) :] == list(CODES), f"{key}: not every interlock spoke"
    assert order.reason.code in SENTENCES, order.reason.code
    assert order.reason.sentence
    assert order.lapses > steady
    assert passage.on == order.on
    paced = {verdict.code for verdict in passage.verdicts[: -len(CODES)]}
    if passage.paced != passage.wanted:  # minimum times hold an ON; quiet hours never do
        assert paced == {"spell"} if passage.paced else paced in ({"rest"}, {"quiet"}), f"{key}: {paced} held"
    if order.on:
        assert order.lapses >= steady + 900.0, f"{key} lapses too soon"
        assert order.lapses <= steady + LONGEST_LAPSE_SECONDS, f"{key} lapses too late"
        assert passage.paced, f"{key}: the guard gave what pace did not"
        assert not any(verdict.tripped for verdict in passage.verdicts if verdict.code in CODES)
    else:
        tripped = [v for v in passage.verdicts if v.tripped]
        assert passage.paced is False or any(v.code in CODES for v in tripped), f"{key} is off for no reason"
    for verdict in passage.verdicts:
        assert not verdict.tripped or verdict.reason is not None
        assert not verdict.trouble or verdict.evidence


def _hold_circuits(house: House, regulator: Regulator, result: Result, steady: float) -> None:
    """What is ordered on, with what may be on against an order older than this step, fits at high mains.

    A heater counts as its meter has often seen it, else as set. Nothing starts before what was told OFF in this
    very step, or may be on for all that is known, fits beside it.
    """
    heaters = regulator._memory.heaters  # the plain memory costs too much to make at each tick
    for circuit in house.circuits:
        amps = ordered = going_off = 0.0
        starts = False
        for key, heater, _ in house.heaters():
            if heater.circuit != circuit.name:
                continue
            kept, on = heaters[key], result.orders[key].on
            proven = [level.watts for level in kept.facts.levels if level.count >= 3]
            watts = max(proven, default=heater.watts)
            at_high = watts / house.house.mains_volts * (1 + house.house.mains_tolerance)
            just_told = kept.told_at == steady
            counted = on or (kept.shown_on and not just_told) or _unknown(kept, heater, steady)
            starts = starts or (on and just_told and not kept.shown_on)
            amps += at_high if counted else 0.0
            going_off += at_high if just_told and not on and not counted else 0.0
            ordered += at_high if on else 0.0
        limit = circuit.breaker_amps * circuit.continuous_share + 1e-6
        assert ordered <= limit, f"{circuit.name}: more ordered on than it carries"
        assert ordered == 0.0 or amps <= limit, f"{circuit.name}: over its share with what may be on"
        assert not starts or amps + going_off <= limit, f"{circuit.name}: one starts before another is off"


def _unknown(kept, heater, steady: float) -> bool:
    """Whether a heater may be on for all that is known of its plug.

    A plug that tells neither contact nor power is unknown until its last ON has lapsed, and for half an hour
    from a start, when no earlier ON of the one before can hold any more.
    """
    plug = heater.plug
    if plug.kind == "mqtt" and not plug.shows and not plug.draws:
        return steady < max(kept.lapses, kept.waiting_since + 1800.0)
    return not kept.heard or (not kept.reachable and kept.shown_on is not False)
