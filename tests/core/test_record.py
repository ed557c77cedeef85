"""What comes out of a step: every stage's answer, whole. The house is invented."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SECOND, SPOT, house_of, study
from thermostatd.core.demand import Wants
from thermostatd.core.guard import Guarded
from thermostatd.core.memory import (
    AirMemory,
    HandMemory,
    HeaterMemory,
    Memory,
    RequestMemory,
    RoomMemory,
    TroubleMemory,
)
from thermostatd.core.pace import Paced
from thermostatd.core.reading import Readings
from thermostatd.core.record import record
from thermostatd.core.results import (
    Demand,
    Event,
    HeaterResult,
    HouseResult,
    Order,
    Outlook,
    Reason,
    Target,
    Trouble,
    Verdict,
)
from thermostatd.core.values import Missing, Reading

WALL = NOON.timestamp()
WANTED, RESTS, RUNS = Reason("warming", "Wanted."), Reason("rest", "Resting."), Reason("warming", "Running.")
AIR, OUTDOOR = Reading(19.0, NOW), Reading(2.0, NOW)
GOOD = Verdict("ceiling", False)
SECOND_KEY = "study/second"
HOUSE = study(more=SECOND.format(name="second", watts=400) + SPOT)


def recorded(
    *,
    toml=HOUSE,
    on=(),
    verdicts=None,
    kept=None,
    air=AIR,
    outlook=None,
    now=None,
    events=(),
    trail=(),
    **memory,
):
    """The result of stages that said these things, and the memory it left."""
    house = house_of(toml)
    keys = [key for key, _, _ in house.heaters()]
    room = RoomMemory(air=AirMemory(trail=list(trail)), battery_low=memory.pop("battery_low", None))
    known = Memory(
        rooms={"study": room},
        heaters={key: HeaterMemory(**(kept or {}).get(key, {})) for key in keys},
        **memory,
    )
    guarded = {key: Guarded(key in on, RUNS, (verdicts or {}).get(key, (GOOD,))) for key in keys}
    told = {key: Order(key in on, RUNS if key in on else RESTS, NOW + 1200.0) for key in keys}
    demand = Demand(True, 1.0, WANTED, outlook)
    found = record(
        house,
        known,
        Readings({"study": air}, OUTDOOR, ()),
        {"study": Target(20.0, "usual", "usual")},
        Wants({"study": demand}, {key: (key != SECOND_KEY, WANTED) for key in keys}),
        {key: Paced(key != PANEL, WANTED) for key in keys},
        guarded,
        told,
        now or now_at(),
        events,
    )
    return found, known


def test_each_heaters_passage_is_told():
    """Wanted, paced, guarded, and what its plug shows."""
    result, _ = recorded(
        on=(COLUMN,),
        kept={COLUMN: {"shown_on": True, "watts": 590.0}, PANEL: {"hand": HandMemory(False, NOW + 9.0, 0.0)}},
    )
    room = result.rooms["study"]
    assert list(room.heaters) == [COLUMN, SECOND_KEY]
    assert room.heaters[COLUMN] == HeaterResult(True, True, True, (GOOD,), True, 590.0, False)
    assert room.heaters[SECOND_KEY] == HeaterResult(False, True, False, (GOOD,))
    assert result.spots["sewing table"].heater == HeaterResult(True, False, False, (GOOD,), None, None, True)
    assert result.heater(PANEL) == result.spots["sewing table"].heater
    assert set(result.orders) == {COLUMN, SECOND_KEY, PANEL}


@pytest.mark.parametrize(("on", "reason"), [((), RESTS), ((SECOND_KEY,), RUNS), ((PANEL,), RESTS)])
def test_a_running_heater_speaks_for_its_room(on, reason):
    """Else the first one."""
    assert recorded(on=on)[0].rooms["study"].reason == reason


def test_a_room_without_heaters_says_what_its_demand_says():
    """There is no order to speak for it."""
    toml = (
        '[house]\nname = "Quay House"\ntimezone = "UTC"\n[[room]]\nname = "study"\nsensor = { topic = "a" }\n'
    )
    room = recorded(toml=toml)[0].rooms["study"]
    assert (room.reason, room.air, room.target.celsius, room.demand.share, room.knows) == (
        WANTED,
        AIR,
        20.0,
        1.0,
        None,
    )


def line(slope, end=19.0):
    """A trail that changes by so many kelvins an hour."""
    return [(NOW - back, end - slope * back / 3600.0) for back in (1200.0, 600.0, 0.0)]


@pytest.mark.parametrize(
    ("slope", "hours"), [(1.0, 1.0), (0.25, 2.0), (0.06, 2.0), (0.04, None), (-1.0, None)]
)
def test_the_air_is_foretold_at_its_pace_up_to_the_target(slope, hours):
    """Two hours at most, in four points; nothing where it stands still or goes away from the target."""
    found = recorded(trail=line(slope))[0].rooms["study"].forecast
    expected = (
        []
        if hours is None
        else [(NOW + 900.0 * hours * n, 19.0 + slope * hours * n / 4.0) for n in (1, 2, 3, 4)]
    )
    assert [value for point in found for value in point] == pytest.approx(
        [value for point in expected for value in point]
    )


def test_a_fall_to_a_lower_target_is_foretold_too():
    """Down to it."""
    found = recorded(air=Reading(21.0, NOW), trail=line(-2.0, 21.0))[0].rooms["study"].forecast
    assert found[-1] == (pytest.approx(NOW + 1800.0), pytest.approx(20.0))
    assert recorded(air=Missing("away"), trail=line(1.0))[0].rooms["study"].forecast == ()
    assert recorded(air=Reading(20.0, NOW), trail=line(1.0, 20.0))[0].rooms["study"].forecast == ()


def test_a_models_outlook_is_the_forecast():
    """Without its spread."""
    outlook = Outlook(((NOW + 60.0, 19.1, 0.2), (NOW + 120.0, 19.2, 0.3)), None, 20.0, None, None, -10.0)
    assert recorded(outlook=outlook)[0].rooms["study"].forecast == ((NOW + 60.0, 19.1), (NOW + 120.0, 19.2))


def test_a_spot_tells_what_remains_and_for_whom():
    """And what it does to who sits there."""
    spot = recorded(on=(PANEL,), spots={"sewing table": RequestMemory("Bo", "", WALL, NOW + 90.0, None)})[
        0
    ].spots["sewing table"]
    assert (spot.on, spot.remaining_seconds, spot.who, spot.until, spot.reason) == (
        True,
        90.0,
        "Bo",
        NOON + timedelta(seconds=90),
        RUNS,
    )
    assert spot.warmer_kelvin > 0.5
    assert f"about {spot.warmer_kelvin:.1f}° warmer" in spot.felt
    late = recorded(spots={"sewing table": RequestMemory("Bo", "", WALL, NOW - 9.0, None)})[0].spots[
        "sewing table"
    ]
    assert (late.remaining_seconds, late.until) == (0.0, NOON)
    idle = recorded()[0].spots["sewing table"]
    assert (idle.on, idle.remaining_seconds, idle.who, idle.until) == (False, 0.0, None, None)


def test_the_house_tells_what_holds_for_all():
    """Awake, in, heated, trusting its clock; and what each circuit carries."""
    watts = {COLUMN: {"watts": 590.0}, SECOND_KEY: {"watts": 300.0}, PANEL: {"watts": 900.0}}
    assert recorded(kept=watts)[0].house == HouseResult(
        True, None, False, False, None, True, OUTDOOR, {"north": 890.0}
    )
    assert recorded()[0].house.circuit_watts == {"north": 0.0}


def test_the_house_tells_who_is_out_and_who_turned_all_off():
    """Since when, until when, and that the clock is doubted."""
    out = RequestMemory("Ana", "", WALL, NOW + 9.0, WALL + 3600.0)
    off = RequestMemory("Bo", "", WALL - 60.0, None, None)
    house = recorded(out=out, all_off=off, now=now_at(doubted=NOW - 5.0))[0].house
    hour = NOON + timedelta(hours=1)
    assert house == HouseResult(
        False, hour, True, True, "Bo", False, OUTDOOR, {"north": 0.0}, NOON - timedelta(minutes=1), "Ana"
    )
    assert recorded(out=RequestMemory("Ana", "", WALL, None, None))[0].house.out_until is None


WARM = Verdict("warm-plug", True, RESTS, True, True, True, True, "It measured 71 °C.")
WHAT = "A plug is getting hot."
TO_DO = "Feel the plug and the socket. Hot, discoloured or smelling: leave it off and call an electrician."


def test_a_trouble_begins_is_kept_and_ends():
    """Told once at each end; since when, what to do, and whether it was seen."""
    result, memory = recorded(verdicts={COLUMN: (GOOD, WARM)}, events=(Event("asked", "study", "."),))
    name = f"{COLUMN}/warm-plug"
    trouble = Trouble(name, "warm-plug", WHAT, "It measured 71 °C.", TO_DO, NOON, True, True, False)
    assert result.troubles == (trouble,)
    assert result.events == (
        Event("asked", "study", "."),
        Event("trouble", name, f"{WHAT} It measured 71 °C."),
    )
    assert memory.troubles == {name: TroubleMemory(WALL)}
    held = {name: TroubleMemory(WALL - 60.0, seen=False)}
    result, _ = recorded(verdicts={COLUMN: (GOOD, WARM)}, troubles=dict(held))
    assert (result.troubles[0].since, result.events) == (NOON - timedelta(minutes=1), ())
    result, memory = recorded(troubles=dict(held))
    assert (result.troubles, memory.troubles) == ((), {})
    assert result.events == (Event("trouble-over", COLUMN, f"Over: {WHAT}"),)


def test_what_latches_after_it_was_seen_is_a_new_trouble():
    """One that only goes on stays seen."""
    name = f"{COLUMN}/warm-plug"
    seen = {name: TroubleMemory(WALL - 60.0, seen=True)}
    result, memory = recorded(verdicts={COLUMN: (WARM,)}, troubles=dict(seen))
    assert (memory.troubles[name], len(result.events)) == (TroubleMemory(WALL), 1)
    mild = Verdict("silent-plug", False, trouble=True, evidence="-")
    name = f"{COLUMN}/silent-plug"
    result, _ = recorded(verdicts={COLUMN: (mild,)}, troubles={name: TroubleMemory(WALL - 60.0, seen=True)})
    assert (result.troubles[0].seen, result.troubles[0].latched, result.events) == (True, False, ())


def test_a_check_that_failed_is_a_trouble_of_its_own_kind():
    """Told as such; and one of a code that is known no more ends as such."""
    broken = Verdict("ceiling", True, RESTS, safety=True, trouble=True, loud=True, evidence="-", failed=True)
    trouble = recorded(verdicts={COLUMN: (broken,)})[0].troubles[0]
    assert (trouble.id, trouble.code, trouble.what) == (
        f"{COLUMN}/ceiling",
        "ceiling",
        "One of the program's own checks failed.",
    )
    over = recorded(troubles={"house/lilac": TroubleMemory(WALL)})[0].events
    assert over == (Event("trouble-over", "house", "Over: One of the program's own checks failed."),)


def test_what_concerns_a_room_or_the_house_is_told_once():
    """Not by each of its heaters; a trouble that trips nothing counts, one that is no trouble does not."""
    missing = Verdict("reading-missing", True, RESTS, trouble=True, evidence="-")
    clock = Verdict("clock", True, RESTS, trouble=True, evidence="-")
    quiet = Verdict("starting", True, RESTS)
    both = (missing, clock, quiet)
    result, _ = recorded(verdicts={COLUMN: both, SECOND_KEY: both, PANEL: (clock,)})
    assert [trouble.id for trouble in result.troubles] == ["study/reading-missing", "house/clock"]


def test_a_low_battery_is_a_trouble_of_its_room():
    """With what it is at."""
    trouble = recorded(battery_low=12.0)[0].troubles[0]
    assert (trouble.id, trouble.code, trouble.evidence, trouble.loud) == (
        "study/battery-low",
        "battery-low",
        "It is at 12 %.",
        False,
    )


def test_loud_troubles_come_first_then_the_unseen_then_the_oldest():
    """As a person should read them."""
    codes = {
        "silent-plug": (False, False, 5),
        "warm-plug": (True, True, 9),
        "covered": (True, False, 8),
        "starting": (False, False, 3),
        "cut-out": (False, True, 1),
    }
    verdicts = tuple(
        Verdict(code, False, trouble=True, loud=loud, evidence="-") for code, (loud, _, _) in codes.items()
    )
    known = {
        f"{COLUMN}/{code}": TroubleMemory(WALL + since, seen) for code, (_, seen, since) in codes.items()
    }
    result, _ = recorded(verdicts={COLUMN: verdicts}, troubles=known)
    assert [trouble.code for trouble in result.troubles] == [
        "covered",
        "warm-plug",
        "starting",
        "silent-plug",
        "cut-out",
    ]
    assert result.troubles[2].since == datetime.fromtimestamp(WALL + 3, UTC)


def test_what_the_watch_on_cut_outs_found_is_told_once():
    """And is taken out of its notes."""
    numbers = {"before": 1500.0, "after": 588.0}
    notes = {"cut-out": {"news": [("cut-out-opened", numbers)], "level": 5.0}}
    result, memory = recorded(kept={COLUMN: {"notes": notes}})
    assert result.events == (
        Event("cut-out-opened", COLUMN, "Power fell from 1500 W to 588 W while on: its own cut-out opened."),
    )
    assert memory.heaters[COLUMN].notes == {"cut-out": {"level": 5.0}}


def test_what_is_advised_of_a_heater_is_a_trouble():
    """What its meter has diagnosed."""
    notes = {"meter": {"code": "less-power", "evidence": "It draws 400 W instead of 600 W.", "runs": 3}}
    result, _ = recorded(kept={COLUMN: {"notes": notes}})
    assert [(trouble.id, trouble.evidence) for trouble in result.troubles] == [
        (f"{COLUMN}/less-power", "It draws 400 W instead of 600 W.")
    ]


@pytest.mark.parametrize(("hours", "awake"), [('11:00", to = "13:00', False), ('13:00", to = "11:00', True)])
def test_the_house_sleeps_by_its_own_hours(hours, awake):
    """At noon."""
    toml = study(
        house=f'asleep = {{ from = "{hours}" }}', more=SECOND.format(name="second", watts=400) + SPOT
    )
    assert recorded(toml=toml)[0].house.awake is awake


def test_a_room_tells_what_was_learned_of_it():
    """Its loss and how long it keeps its warmth, where a model says so."""
    thermal = {"loss_watts_per_kelvin": 30.0, "loss_spread_watts_per_kelvin": 2.0, "settling_hours": 9.0,
               "settling_spread_hours": 1.0}  # fmt: skip
    room = recorded(models={"study": {"thermal": thermal}})[0].rooms["study"]
    assert (room.knows.code, room.knows.numbers["loss"], room.knows.numbers["hours"]) == (
        "room-knows",
        30.0,
        9.0,
    )
