"""One heater in a house of several rooms, as `no-answer` is shown it. The house is invented; times are steady seconds.

Rules: the heater runs since an hour and its air stands at 20.0°, read in tenths and heard just now; nobody else's
heater is known to rest; each test changes what it is about.
"""

from __future__ import annotations

from tests.core.guard.cases import NOW, case_of, now_at
from tests.stories.teller import study
from thermostatd.core.guard.case import Case
from thermostatd.core.memory import AirMemory
from thermostatd.core.values import Reading

SECOND = """
[[room.heater]]
name = "fan"
kind = "convector"
watts = 900
may_run = ["awake", "asleep", "away"]
plug = { kind = "simulated" }
"""
ROOM = """
[[room]]
name = "{name}"
sensor = {{ topic = "{name}/air" }}
usual = [{{ days = "daily", at = "00:00", celsius = 18 }}]
[[room.heater]]
name = "panel"
watts = 400
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "simulated" }}
"""
OTHERS = "".join(ROOM.format(name=name) for name in ("attic", "bedroom", "cellar"))
RUNS = {"told_on": True, "on_since": NOW - 3600.0, "shown_on": True}
RESTS = {"told_on": False, "off_since": NOW - 1800.0, "shown_on": False}
BESIDE = {"told_on": False, "off_since": NOW - 1500.0}  # another room's heater, still for long enough
CODE = "no-answer"


def scene(
    notes: dict | None = None,
    *,
    air: object = 20.0,
    trail: list | None = None,
    step: float = 0.1,
    unchanged: float | None = NOW - 100.0,
    second: bool = False,
    heater: str = "",
    others: dict[str, AirMemory] | None = None,
    heaters: dict[str, dict] | None = None,
    window: dict | None = None,
    seconds: float = 10.0,
    target: float | None = 20.0,
    wanted: bool = True,
    more_notes: dict | None = None,
    **kept,
) -> Case:
    """The case; `heaters` and `others` say what is known of other heaters and other rooms' air."""
    celsius = air.celsius if isinstance(air, Reading) else air if isinstance(air, float) else None
    case = case_of(
        toml=study(heater=heater, more=(SECOND if second else "") + OTHERS),
        now=now_at(seconds=seconds),
        air=air,
        target=target,
        wanted=wanted,
        learned={
            "celsius": celsius,
            "at": NOW,
            "step": step,
            "unchanged_since": unchanged,
            "trail": trail or [],
        },
        **RUNS | kept,
    )
    case.kept.notes |= {CODE: notes or {}} | (more_notes or {})
    for room in ("attic", "bedroom", "cellar"):
        case.memory.rooms[room].air = (others or {}).get(room, AirMemory())
    for key, known in (heaters or {}).items():
        for name, value in known.items():
            setattr(case.memory.heaters[key], name, value)
    case.memory.rooms["study"].window = window or {}
    return case


def line(celsius: float, per_hour: float, *, since: float = 1200.0, until: float = 0.0) -> list:
    """A trail of air that stands at `celsius` now and has gone by so many kelvin an hour, a point each 300 s."""
    points, at = [], since
    while at >= until:
        points.append((NOW - at, celsius - per_hour * at / 3600.0))
        at -= 300.0
    return points


def air_of(
    celsius: float | None = 18.0, *, at: float | None = NOW, heard: bool = True, trail=None
) -> AirMemory:
    """Another room's air."""
    return AirMemory(
        celsius=celsius, at=at, heard=heard, trail=trail if trail is not None else line(18.0, 0.0)
    )
