"""Random houses, observations and requests for properties of the whole Regulator. All invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import strategies as st

from thermostatd.core.asking import NEXT_STEP, NO_END, AllOff, Ask, Cancel, Out, RoomOff, Seen, WarmMe
from thermostatd.core.guard import CODES
from thermostatd.core.house import House
from thermostatd.core.values import Missing, PlugReport, Reading

CONTROLS = ("hysteresis", "proportional", "predictive")
MAY_RUN = (["awake"], ["awake", "asleep"], ["awake", "asleep", "away"])


def _plug(kind: str) -> dict:
    if kind == "simulated":
        return {"kind": "simulated"}
    plug = {"kind": "mqtt", "tell": "p/set", "timer": {"payload": "1 {seconds}"}}
    if kind == "shows":
        plug["shows"] = {"topic": "p"}
    if kind == "draws":
        plug["draws"] = {"topic": "p"}
    return plug


@st.composite
def houses(draw, zone: str | None = None) -> House:
    """A house of one to three rooms, perhaps a spot, on one or two circuits."""
    number = st.integers(1, 3)

    def heater(name: str) -> dict:
        return {
            "name": name, "watts": draw(st.sampled_from((400, 900, 1500, 2500))),
            "circuit": draw(st.sampled_from(("north", "south"))),
            "min_on": draw(st.sampled_from(("10 s", "5 min", "20 min"))),
            "min_off": draw(st.sampled_from(("10 s", "5 min", "20 min"))),
            "longest_run": draw(st.sampled_from(("30 min", "2 h", "12 h"))),
            "may_run": draw(st.sampled_from(MAY_RUN)),
            "by_hand": draw(st.sampled_from(("off", "allow for 1 h"))),
            "plug": _plug(draw(st.sampled_from(("simulated", "simulated", "shows", "draws", "blind")))),
        }

    rooms = []
    for n in range(draw(number)):
        room = {
            "name": f"room {n}", "sensor": {"topic": f"{n}/air"}, "control": draw(st.sampled_from(CONTROLS)),
            "usual": [{"days": "daily", "at": "06:00", "celsius": draw(st.sampled_from((18, 20, 21.5)))},
                      {"days": "daily", "at": "21:00", "celsius": 16}],
            "heater": [heater(f"heater {m}") for m in range(draw(st.integers(0, 2)))],
        }
        if draw(st.booleans()):
            room["quiet"] = [{"from": "22:00", "to": "06:00", "switches": draw(st.integers(0, 5))}]
        rooms.append(room)
    table = {
        "house": {"timezone": zone or draw(st.sampled_from(("UTC", "Europe/Oslo", "America/St_Johns"))),
                  "forecast": {"topic": "hours"}},
        "circuit": [{"name": "north", "breaker_amps": draw(st.sampled_from((6, 10, 16)))},
                    {"name": "south", "breaker_amps": 16}],
        "room": rooms,
    }
    if draw(st.booleans()):
        table["house"]["asleep"] = {"from": "23:00", "to": "06:30"}
    if draw(st.booleans()):
        spot = heater("panel") | {"kind": "infrared"}
        table["spot"] = [{"name": "corner", "longest": "60 min", "heater": spot}]
    return House.model_validate(table)


numbers = st.one_of(
    st.floats(-40, 90), st.floats(15, 24), st.sampled_from((float("nan"), float("inf"), 1e308, -127.0, 85.0, 10**400)),
)
values = st.one_of(st.floats(16, 23), st.floats(16, 23), numbers, st.sampled_from((None, True, "20", [], {}, b"")))


FORECASTS = {
    60.0: (4.0, 2.0, -6.0, -12.5, 1.0), 300.0: (3.0, float("nan")), 1200.0: (-40.0, 41.0), 7200.0: ("2", 10**400),
}
"""What a step after so many seconds tells of the coming hours, sense or none."""


@st.composite
def samples(draw, steady: float):
    """What may stand for a room's air."""
    kind = draw(st.integers(0, 9))
    if kind < 6:
        return draw(st.floats(16, 23))
    if kind == 6:
        return Missing(draw(st.text(max_size=30)))
    if kind == 7:
        return draw(values)
    odd = st.sampled_from((float("nan"), float("inf")))
    at = draw(st.one_of(st.none(), st.floats(steady - 4000, steady + 4000), odd))
    return Reading(draw(values), at=at)


@st.composite
def reports(draw, steady: float, on: bool, watts: float) -> PlugReport:
    """What a plug may say: mostly the truth, sometimes anything."""
    if draw(st.integers(0, 4)):
        return PlugReport(on=on, watts=watts if on else 0.0, volts=230.0, on_at=steady, watts_at=steady)
    odd = st.one_of(st.none(), numbers, st.floats(0, 3000))
    times = st.one_of(st.none(), st.floats(steady - 2000, steady + 2000), st.just(float("nan")))
    return PlugReport(
        on=draw(st.sampled_from((True, False, None, on))), watts=draw(odd), volts=draw(odd), on_at=draw(times),
        watts_at=draw(times), warm_celsius=draw(st.one_of(st.none(), st.floats(10, 60), numbers)),
        warm_at=draw(times), reachable=draw(st.booleans()), opened_at=draw(times),
    )


@st.composite
def requests(draw, house: House, wall: datetime):
    """Anything a person, or a stranger's program, may ask."""
    names = [room.name for room in house.rooms] + [spot.name for spot in house.spots] + ["attic"]
    heaters = [key for key, _, _ in house.heaters()] + ["house", "room 0"]
    until = draw(st.one_of(
        st.sampled_from((NEXT_STEP, NO_END, None, "soon", datetime.max.replace(tzinfo=UTC))),
        st.floats(-3600, 200000).map(lambda seconds: wall + timedelta(seconds=seconds)),
    ))
    begins = st.one_of(
        st.sampled_from(("later", datetime.max.replace(tzinfo=UTC), wall.replace(tzinfo=None))),
        st.floats(-3600, 100000).map(lambda seconds: wall + timedelta(seconds=seconds)),
    )
    who = draw(st.one_of(st.none(), st.text(max_size=60)))
    return draw(st.one_of(
        st.builds(Ask, st.sampled_from(names), st.one_of(st.floats(10, 26), values), st.just(until), st.just(who)),
        st.builds(Ask, st.sampled_from(names), st.floats(10, 26), st.just(until), begins=begins),
        st.builds(RoomOff, st.sampled_from(names), st.just(until), st.just(who)),
        st.builds(Cancel, st.sampled_from([*names, Out]), begins=begins),
        st.builds(WarmMe, st.sampled_from(names), st.one_of(st.floats(1, 70), values), st.just(who)),
        st.builds(Out, st.just(until), st.just(who)),
        st.just(AllOff(who)),
        st.builds(Cancel, st.sampled_from([*names, Out, AllOff]), st.just(who)),
        st.just(Cancel(AllOff)),
        st.just(Cancel(Out)),
        st.builds(lambda key, code: Seen(f"{key}/{code}", who), st.sampled_from(heaters), st.sampled_from(CODES)),
        st.sampled_from((None, "warmer", 5)),
    ))
