"""One heater at one moment, as an interlock is shown it. All invented; times are steady seconds."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from zoneinfo import ZoneInfo

from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.clock import Now
from thermostatd.core.guard.case import Around, Case
from thermostatd.core.memory import AirMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.reasons import reason
from thermostatd.core.results import Target, Verdict
from thermostatd.core.values import Reading

NOW = 50_000.0
NOON = datetime(2026, 1, 12, 12, 0, tzinfo=UTC)
BLIND = 'plug = { kind = "mqtt", tell = "a/set", timer = { payload = "1 {seconds}" } }'
METERED = (
    'plug = { kind = "mqtt", tell = "a/set", draws = { topic = "a" }, timer = { payload = "1 {seconds}" } }'
)
SIMULATED = 'plug = { kind = "simulated" }'


_house = cache(house_of)  # nobody writes into one


def now_at(
    steady: float = NOW,
    *,
    seconds: float = 10.0,
    wall: datetime = NOON,
    doubted: float | None = None,
    jump: float = 0.0,
) -> Now:
    """A moment; `doubted` is the steady second since which the clocks disagree."""
    return Now(steady, seconds, wall, wall, doubted, ZoneInfo("UTC"), jump)


def case_of(
    *,
    toml: str | None = None,
    key: str = COLUMN,
    now: Now | None = None,
    air: object = 20.0,
    target: Target | float | None = 20.0,
    wanted: bool = True,
    stopping: bool = False,
    learned: dict | None = None,
    **kept,
) -> Case:
    """A case of the study's column, or of the sewing table's panel; `kept` is what is known of the plug."""
    house = _house(toml or (study(more=SPOT) if key == PANEL else study()))
    heater, place = next((heater, place) for known, heater, place in house.heaters() if known == key)
    room = next((room for room in house.rooms if room is place), None)
    known = AirMemory(**({"heard": True} | (learned or {})))
    heaters = {name: HeaterMemory(heard=True) for name, _, _ in house.heaters()}
    heaters[key] = HeaterMemory(**({"heard": True} | kept))
    memory = Memory(rooms={one.name: RoomMemory(air=known) for one in house.rooms}, heaters=heaters)
    target = Target(target, "usual", "usual") if isinstance(target, float) else target
    return Case(
        house,
        memory,
        now or now_at(),
        key,
        heater,
        room,
        heaters[key],
        (Reading(air) if isinstance(air, float) else air) if room else None,
        known if room else None,
        target if room else None,
        wanted,
        stopping,
        Around(house, memory),
    )


def good(code: str) -> Verdict:
    """Proven good."""
    return Verdict(code, False)


def trips(
    code: str,
    *,
    trouble: bool = False,
    loud: bool = False,
    latched: bool = False,
    evidence: str = "",
    **numbers,
) -> Verdict:
    """Tripped for safety, with exactly this said."""
    return Verdict(code, True, reason(code, **numbers), latched, True, trouble, loud, evidence)


def on_trial(code: str, evidence: str, *, loud: bool = False) -> Verdict:
    """Let through, while the trouble stands."""
    return Verdict(code, False, trouble=True, loud=loud, evidence=evidence)
