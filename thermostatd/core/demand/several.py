"""Several heaters in one room: the steady one carries the base, the quick one trims, the rest stay still.

Rules: the control law switches the trim alone; the base is on as long as the room needs more than it, by what was
lately delivered near the target; far under the target all work. A heater that cannot be counted on (latched,
away, drawing nothing, not allowed now, waiting long for its share) is neither: its load moves over to the others,
and it follows the law as if alone, so that it is found when it is back. A room of one heater is not touched.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from thermostatd.core.demand.proportional import (
    DEFAULT_DEAD_SECONDS,
    DEFAULT_GAIN_KELVIN,
    DEFAULT_TAU_SECONDS,
)
from thermostatd.core.house import Heater, Room
from thermostatd.core.memory import HeaterMemory, Memory, Notes
from thermostatd.core.plug import can_be_heard, drawing_floor_watts, drawn_watts, evidence_watts, level_watts
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Reason, Target

STEADIEST_FIRST = ("oil-filled", "panel", "convector", "infrared")
NEAR_KELVIN = 0.8
BOOST_KELVIN = 0.7
OVER_KELVIN = 0.55  # short of the `overshoot` interlock
MEAN_SECONDS = 5400.0
KNOWN_SECONDS = 3600.0
JOIN_SHARE, FAILING_SHARE, LEFT_SHARE = 1.0, 0.85, 0.8
TRIM_RESERVE = 1.25
LONG_SECONDS = 1200.0
ALL_SHARE, NO_SHARE = 0.9, 0.05
REJOIN_SECONDS = 3600.0
FALL_KELVIN = 0.05
LONGEST_STEP_SECONDS = 300.0
WAITED_SECONDS = 600.0
FAULTS = ("drawing-nothing", "no-answer", "warm-plug", "drawing-while-off", "silent-plug")


@dataclass(frozen=True, slots=True)
class Parts:
    """Who does what in a room of several heaters. `trim` is what the law switches."""

    base: tuple[Heater, ...]
    trim: tuple[Heater, ...]
    idle: tuple[Heater, ...]
    lost: tuple[Heater, ...]

    @property
    def sound(self) -> tuple[Heater, ...]:
        """All that can be counted on."""
        return (*self.base, *self.trim, *self.idle)


def parts(
    room: Room,
    memory: Memory,
    celsius: float,
    target: Target,
    steady: float,
    seconds: float,
    circumstance: str,
) -> Parts | None:
    """The parts at this step; None where there are not two heaters to count on."""
    notes = memory.rooms[room.name].demand.setdefault("several", {})
    kept = {_id(heater): memory.heaters[room.key_of(heater)] for heater in room.heaters}
    sound = [h for h in room.heaters if _counted_on(kept[_id(h)], h, steady, circumstance)]
    if len(sound) < 2:
        notes.clear()
        return None
    ladder = sorted(sound, key=lambda h: STEADIEST_FIRST.index(h.kind))
    below = target.celsius - celsius
    before = _power(notes, ladder, kept)
    _learn_need(notes, room, kept, below, min(seconds, LONGEST_STEP_SECONDS))
    base = _base(notes, ladder, kept, below, steady)
    rest = [heater for heater in reversed(ladder) if heater not in base]
    trim = _trim(notes, rest, kept, base, below, steady)
    notes["base"], notes["trim"] = [_id(h) for h in base], [_id(h) for h in trim]
    _carry_integral(memory.rooms[room.name].demand, before, _power(notes, ladder, kept))
    idle = tuple(heater for heater in rest if heater not in trim)
    lost = tuple(heater for heater in room.heaters if heater not in sound)
    return Parts(tuple(base), tuple(trim), idle, lost)


def spread(
    room: Room, memory: Memory, found: Parts, demand: Demand, steady: float
) -> tuple[Demand, dict[str, tuple[bool, Reason]]]:
    """The room's demand as a share of all its heaters, and what is wanted of each of them."""
    notes = memory.rooms[room.name].demand["several"]
    asks = _asks(room, demand)
    if notes.get("asks") != asks or "since" not in notes:
        notes.update(asks=asks, since=steady)
    notes["on"] = demand.on
    base, trim = (sum(h.watts for h in part) for part in (found.base, found.trim))
    full = sum(h.watts for h in room.heaters if h not in found.lost)
    share = (base + demand.share * trim) / full
    wants = {room.key_of(heater): (demand.on, demand.reason) for heater in (*found.trim, *found.lost)}
    steadily = reason("base-on")
    wants |= {room.key_of(heater): (True, steadily) for heater in found.base}
    still = reason("not-needed") if demand.on else demand.reason
    wants |= {room.key_of(heater): (False, still) for heater in found.idle}
    return replace(demand, share=share), wants


def scaled_model(model: Notes | None, share: float) -> Notes:
    """A first-order model as seen by a part of the room's power: its gain is that part's."""
    known: dict[str, Any] = dict(model or {})
    known.setdefault("gain_kelvin", DEFAULT_GAIN_KELVIN)
    known.setdefault("tau_seconds", DEFAULT_TAU_SECONDS)
    known.setdefault("dead_seconds", DEFAULT_DEAD_SECONDS)
    return known | {"gain_kelvin": share * known["gain_kelvin"]}


def _asks(room: Room, demand: Demand) -> str:
    """Whether the law wants all of its trim, none, or a part: where it goes by cycles, its share tells."""
    if room.control != "proportional":
        return "all" if demand.on else "none"
    return "all" if demand.share >= ALL_SHARE else "none" if demand.share <= NO_SHARE else "part"


def _on_trial(kept: HeaterMemory) -> bool:
    """Whether `no-answer` lets it rest to see the air sag."""
    return kept.notes.get("no-answer", {}).get("resting_since") is not None


def _counted_on(kept: HeaterMemory, heater: Heater, steady: float, circumstance: str) -> bool:
    if circumstance not in heater.may_run or not kept.reachable or kept.hand is not None:
        return False
    if can_be_heard(heater) and not kept.heard:
        return False
    watts = evidence_watts(kept)
    if kept.told_on and watts is not None and watts <= drawing_floor_watts(heater):
        return False
    for code in FAULTS:
        notes = kept.notes.get(code, {})
        if notes.get("latched") or notes.get("tries") or steady < notes.get("pause_until", steady):
            return False
    return not kept.notes.get("circuit", {}).get("waited", 0.0) > WAITED_SECONDS


def _learn_need(
    notes: Notes, room: Room, kept: Mapping[str, HeaterMemory], below: float, seconds: float
) -> None:
    """Mean of what was delivered while the air was near its target, W, over an hour and a half."""
    if abs(below) > NEAR_KELVIN or any(_on_trial(one) for one in kept.values()):
        return
    drawn = 0.0
    for heater in room.heaters:
        one = kept[_id(heater)]
        if one.told_on:
            drawn += drawn_watts(one, heater)
    known = notes.get("known", 0.0) + seconds
    share = min(1.0, seconds / min(known, MEAN_SECONDS)) if known else 0.0
    notes["watts"] = notes.get("watts", 0.0) + share * (drawn - notes.get("watts", 0.0))
    notes["known"] = min(known, MEAN_SECONDS)


def _base(
    notes: Notes, ladder: list[Heater], kept: Mapping[str, HeaterMemory], below: float, steady: float
) -> list[Heater]:
    """The steadiest heaters that the room needs more than, and at least one left to trim."""
    names = notes.get("base", [])
    base = [heater for heater in ladder if _id(heater) in names]
    if below <= -OVER_KELVIN:
        return []
    if base and _too_much(notes, below, steady):
        last = base.pop()
        notes["watts"] = _sum(base, kept) + LEFT_SHARE * level_watts(kept[_id(last)], last)
        notes["left_at"] = steady
    for heater in ladder[:-1]:
        if heater not in base and below >= 0.0 and _carries(notes, _sum([*base, heater], kept), steady):
            base.append(heater)
    return base


def _too_much(notes: Notes, below: float, steady: float) -> bool:
    """Whether the base alone holds the air over its target: it does not fall, long after the trim went off."""
    if notes.get("asks") != "none" or below >= 0.0 or steady - notes["since"] < LONG_SECONDS:
        notes.pop("watch", None)
        return False
    if "watch" not in notes or steady - notes["watch"][0] < LONG_SECONDS:
        notes.setdefault("watch", [steady, below])
        return False
    fallen = below - notes.pop("watch")[1]
    return bool(fallen < FALL_KELVIN)


def _carries(notes: Notes, base_watts: float, steady: float) -> bool:
    """Whether a base of these watts would not be too much: by the need that is known, or since the trim fails alone."""
    if (
        notes.get("known", 0.0) < KNOWN_SECONDS
        or steady - notes.get("left_at", -REJOIN_SECONDS) < REJOIN_SECONDS
    ):
        return False
    failing = notes.get("asks") == "all" and steady - notes["since"] >= LONG_SECONDS
    return bool(notes["watts"] >= (FAILING_SHARE if failing else JOIN_SHARE) * base_watts)


def _trim(
    notes: Notes,
    rest: list[Heater],
    kept: Mapping[str, HeaterMemory],
    base: list[Heater],
    below: float,
    steady: float,
) -> list[Heater]:
    """The quickest heaters that are enough beside the base; chosen while off, and more when it lasts too long."""
    known = notes.get("known", 0.0) >= KNOWN_SECONDS
    if not known or below >= BOOST_KELVIN:
        return rest
    names = notes.get("trim", [])
    trim = [heater for heater in rest if _id(heater) in names]
    if trim and notes.get("asks") == "all" and below > 0.0 and steady - notes["since"] >= LONG_SECONDS:
        notes["since"] = steady
        return rest[: len(trim) + 1]
    if trim and notes.get("on"):
        return trim
    needed, trim = TRIM_RESERVE * (notes["watts"] - _sum(base, kept)), []
    for heater in rest:
        if not trim or _sum(trim, kept) < needed:
            trim.append(heater)
    return trim


def _id(heater: Heater) -> str:
    """What tells it from the room's others: its name, or the key that it keeps where it was carried in."""
    return getattr(heater, "kept_key", None) or heater.name


def _sum(heaters: Iterable[Heater], kept: Mapping[str, HeaterMemory]) -> float:
    return sum(level_watts(kept[_id(heater)], heater) for heater in heaters)


def _power(notes: Notes, ladder: list[Heater], kept: Mapping[str, HeaterMemory]) -> tuple[float, float]:
    """The base and the trim, W."""
    return (
        _sum((h for h in ladder if _id(h) in notes.get("base", [])), kept),
        _sum((h for h in ladder if _id(h) in notes.get("trim", [])), kept),
    )


def _carry_integral(
    demand: dict[str, Notes], before: tuple[float, float], after: tuple[float, float]
) -> None:
    """The proportional law's integral in the measure of the new trim, so that a change of parts gives no bump."""
    notes = demand.get("proportional")
    if notes is None or "integral" not in notes or before == after or before[1] <= 0.0 or after[1] <= 0.0:
        return
    moved = (notes["integral"] * before[1] + before[0] - after[0]) / after[1]
    notes["integral"] = min(1.0, max(-0.5, moved))
