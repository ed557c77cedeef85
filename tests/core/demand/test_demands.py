"""From air and targets to what is wanted of each heater: what each law is given, and what stands in for it."""

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SECOND, SPOT, house_of, study
from thermostatd.core import demand
from thermostatd.core.demand import Wants, demands
from thermostatd.core.demand.law import Hush
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HandMemory, HeaterMemory, Memory, RequestMemory, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Target
from thermostatd.core.values import Forecast, Missing, Reading

DEN = '[[room]]\nname = "den"\nsensor = { topic = "d" }\n'
TARGET = Target(20.0, "usual", "usual")
WARMING = reason("warming", target=20.0, eta="")


class Home:
    """A house at one moment; the study's law is one that keeps what it is given and wants `answer`."""

    def __init__(
        self, monkeypatch=None, *, toml=None, air=19.0, outdoor=None, answer=None, now=None, den=15.0
    ):
        self.house = house_of(toml or study(more=SPOT))
        self.memory = Memory(
            rooms={room.name: RoomMemory() for room in self.house.rooms},
            heaters={key: HeaterMemory(heard=True) for key, _, _ in self.house.heaters()},
        )
        self.now = now or now_at(seconds=7.0)
        airs = {"study": air, "den": den, "loft": den}
        self.readings = Readings(
            {room.name: sample(airs[room.name]) for room in self.house.rooms}, sample(outdoor), ()
        )
        self.cases = []
        if monkeypatch is not None:
            monkeypatch.setattr(demand, "LAWS", dict.fromkeys(demand.LAWS, self.law))
        self.answer = answer if answer is not None else Demand(True, 0.5, WARMING)

    def law(self, case):
        """Keeps the case."""
        self.cases.append(case)
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer

    def wants(self) -> Wants:
        """What is wanted."""
        targets = {room.name: TARGET for room in self.house.rooms}
        return demands(self.house, self.memory, self.readings, targets, self.now)


def sample(value):
    """A reading, or none."""
    return Missing("silent") if value is None else Reading(value)


def test_a_rooms_demand_is_what_is_wanted_of_its_heater(monkeypatch):
    """With the law's own reason."""
    home = Home(monkeypatch)
    wants = home.wants()
    assert wants.rooms == {"study": Demand(True, 0.5, WARMING)}
    assert wants.heaters == {COLUMN: (True, WARMING), PANEL: (False, reason("spot-off"))}


@pytest.mark.parametrize(
    ("answer", "what"),
    [
        (ValueError("broken"), "ValueError"), (Demand(True, float("nan"), WARMING), "not a finite share"),
        (Demand(True, float("inf"), WARMING), "not a finite share"), (Demand(None, 0.5, WARMING), "not a finite share"),
        (5, "AttributeError"),
    ],
)  # fmt: skip
def test_a_law_that_fails_ends_in_off(monkeypatch, answer, what):
    """One that raises, or wants what nobody can do; and says what it was."""
    wants = Home(monkeypatch, answer=answer).wants()
    expected = Demand(False, 0.0, reason("demand-failed", what=what))
    assert wants.rooms["study"] == expected
    assert wants.heaters[COLUMN] == (False, expected.reason)


def test_a_law_that_wants_nothing_is_taken_at_its_word(monkeypatch):
    """It has not failed."""
    answer = Demand(False, 0.0, reason("warm-enough"))
    assert Home(monkeypatch, answer=answer).wants().rooms["study"] == answer


def test_without_air_or_without_heaters_nothing_is_wanted(monkeypatch):
    """Each is said; the law is not asked."""
    home = Home(monkeypatch, toml=study(more=DEN), air=None)
    wants = home.wants()
    assert wants.rooms == {
        "study": Demand(False, 0.0, reason("no-air")), "den": Demand(False, 0.0, reason("no-heater"))
    }  # fmt: skip
    assert home.cases == []


def test_a_law_is_given_the_room_at_its_moment(monkeypatch):
    """Air, target, the seconds since the last step, outdoors, the mean of the other rooms, the house's clock."""
    now = now_at(seconds=7.0, wall=NOON + timedelta(minutes=30))
    home = Home(monkeypatch, toml=study(more=DEN), outdoor=-4.0, now=now)
    home.memory.models["study"] = {"gain_kelvin": 9.0}
    home.wants()
    case = home.cases[0]
    assert (case.room.name, case.celsius, case.target, case.steady, case.seconds) == (
        "study",
        19.0,
        TARGET,
        NOW,
        7.0,
    )
    assert (case.outdoor_celsius, case.neighbours_celsius, case.model) == (-4.0, 15.0, {"gain_kelvin": 9.0})
    assert case.day_minute == 750.0
    assert case.air is home.memory.rooms["study"].air
    assert case.hush is None
    assert case.notes is home.memory.rooms["study"].demand["hysteresis"]
    alone = Home(monkeypatch, den=None, toml=study(more=DEN))
    alone.wants()
    assert (alone.cases[0].outdoor_celsius, alone.cases[0].neighbours_celsius) == (None, None)


def test_a_law_is_told_of_quiet_hours_where_a_room_has_them(monkeypatch):
    """Those that come."""
    toml = study(room='quiet = [{ from = "12:30", to = "14:00", switches = 3 }]')
    home = Home(monkeypatch, toml=toml)
    home.wants()
    assert home.cases[0].hush == Hush(NOW + 1800.0, NOW + 7200.0, 3, 3, "14:00")
    within = Home(monkeypatch, toml=toml, now=now_at(wall=NOON + timedelta(hours=1)))
    within.memory.rooms["study"].quiet_window = (NOON + timedelta(minutes=30)).timestamp()
    within.memory.rooms["study"].quiet_used = 2
    within.wants()
    assert within.cases[0].hush == Hush(NOW, NOW + 3600.0, 1, 3, "14:00")


def test_a_law_is_given_the_minute_of_the_houses_own_day_and_the_mean_of_its_neighbours(monkeypatch):
    """Noon is 13:00 in Oslo; 15 and 11 °C are 13."""
    home = Home(
        monkeypatch,
        toml=study(more=DEN + DEN.replace("den", "loft")),
        now=replace(now_at(), zone=ZoneInfo("Europe/Oslo")),
    )
    home.readings.air["loft"] = Reading(11.0)
    home.wants()
    assert (home.cases[0].day_minute, home.cases[0].neighbours_celsius) == (780.0, 13.0)


def test_in_a_room_of_several_without_air_nothing_is_wanted(monkeypatch):
    """And it is said; there are no parts then."""
    home = Home(monkeypatch, toml=TWO, air=None)
    assert home.wants().rooms["study"].reason == reason("no-air")


def test_a_heater_that_may_not_run_while_the_house_sleeps_is_no_part(monkeypatch):
    """The law has the other one, and the lost one besides."""
    home = two(monkeypatch, house='asleep = { from = "11:00", to = "13:00" }', may='["awake"]')
    home.wants()
    assert home.cases[0].watts == 1300.0
    assert home.memory.rooms["study"].demand["several"] == {}


@pytest.mark.parametrize(
    ("kept", "watts", "full", "drawn", "was_on", "switched"),
    [
        ({}, 600.0, 600.0, 0.0, False, None),
        ({"off_since": 5.0, "on_since": 9.0}, 600.0, 600.0, 0.0, False, 5.0),
        ({"told_on": True, "on_since": 5.0, "off_since": 9.0}, 600.0, 600.0, 600.0, True, 5.0),
        ({"facts": HeaterFacts(level_watts=400.0), "told_on": True, "on_since": 5.0}, 600.0, 400.0, 400.0, True, 5.0),
        ({"told_on": True, "on_since": 5.0, "watts": 350.0, "watts_at": NOW}, 600.0, 600.0, 350.0, True, 5.0),
        ({"told_on": True, "on_since": 5.0, "watts": -3.0, "watts_at": NOW}, 600.0, 600.0, 0.0, True, 5.0),
        ({"on_since": 5.0, "watts": 350.0, "watts_at": NOW}, 600.0, 600.0, 0.0, False, None),
    ],
)  # fmt: skip
def test_a_law_is_given_what_its_heater_would_draw_and_has_drawn(
    monkeypatch, kept, watts, full, drawn, was_on, switched
):
    """As set, as metered, and since when it holds."""
    home = Home(monkeypatch)
    home.memory.heaters[COLUMN] = HeaterMemory(heard=True, **kept)
    home.wants()
    case = home.cases[0]
    assert (case.watts, case.full_watts, case.drawn_watts, case.base_watts) == (watts, full, drawn, 0.0)
    assert (case.was_on, case.switched) == (was_on, switched)


@pytest.mark.parametrize(
    ("facts", "heater", "lasting"),
    [
        ({}, "", 600.0),
        ({"sustained_watts": 600.0}, "", 600.0),
        ({"sustained_watts": 500.0}, "", 350.0),
        ({"level_watts": 1400.0, "sustained_watts": 600.0}, "", 420.0),
        ({}, "sustained_watts = 500", 350.0),
        ({"sustained_watts": 650.0}, "sustained_watts = 500", 600.0),
    ],
)
def test_a_law_is_told_what_its_heater_can_go_on_giving(monkeypatch, facts, heater, lasting):
    """Its level where it sustains that; else what pacing leaves of that, as learned or as the owner wrote."""
    home = Home(monkeypatch, toml=study(heater=heater))
    home.memory.heaters[COLUMN] = HeaterMemory(heard=True, facts=HeaterFacts(**facts))
    home.wants()
    assert home.cases[0].lasting_watts == pytest.approx(lasting)


TWO = study(more=SECOND.format(name="quick", watts=700).replace("watts", 'kind = "convector"\nwatts'))
QUICK = "study/quick"


def two(monkeypatch, control="hysteresis", house="", may='["awake", "asleep", "away"]', air=19.9):
    """A column of 600 W that carries, and a convector of 700 W that trims."""
    toml = TWO.replace("[[circuit]]", f"{house}\n[[circuit]]", 1).replace('["awake", "asleep", "away"]', may)
    home = Home(monkeypatch, toml=toml.replace("usual = [", f'control = "{control}"\nusual = ['), air=air)
    home.memory.rooms["study"].demand["several"] = {"known": 5400.0, "watts": 900.0, "base": ["column"]}
    home.memory.heaters[COLUMN].told_on, home.memory.heaters[COLUMN].on_since = True, 3.0
    home.memory.heaters[QUICK].off_since = 4.0
    return home


@pytest.mark.parametrize(
    ("control", "ahead", "celsius", "more", "model", "base"),
    [
        ("predictive", 600.0, 22.0, {}, {"thermal": {"watts": 1300.0}}, 600.0),
        ("predictive", 0.0, 22.0, {}, {"thermal": {"watts": 1300.0}}, 0.0),
        ("predictive", 600.0, 19.0, {}, {"thermal": {"watts": 1300.0}}, 0.0),
        ("predictive", 600.0, 22.0, {"at_odds": True}, {"thermal": {"watts": 1300.0}}, 0.0),
        ("predictive", 600.0, 22.0, {}, {"gain_kelvin": 20.0}, 0.0),
        ("predictive", 600.0, 22.0, {}, None, 0.0),
        ("hysteresis", 600.0, 22.0, {}, {"thermal": {"watts": 1300.0}}, 0.0),
    ],
)
def test_in_a_room_of_several_the_parts_go_by_a_rise_that_is_heated_for(
    monkeypatch, control, ahead, celsius, more, model, base
):
    """At 21 °C, a kelvin over the target, the base goes off; not with 22 °C to come to in ten minutes, unless the room
    is heated by hysteresis meanwhile, which heats for no rise."""
    home = two(monkeypatch, control, air=21.0)
    rise = {"at": NOW + ahead, "celsius": celsius, "since": NOW - 600.0, "vain": False}
    home.memory.rooms["study"].demand["predictive"] = {"rise": rise} | more
    if model is not None:
        home.memory.models["study"] = model
    home.wants()
    assert home.cases[0].base_watts == base
    assert home.cases[0].lasting_watts == 1300.0, "all that can be counted on"


def test_in_a_room_of_several_the_law_has_the_trim_and_knows_of_the_base(monkeypatch):
    """What it switches, what it would draw, and what heats beside it; the room's share is that of all."""
    home = two(monkeypatch)
    wants = home.wants()
    case = home.cases[0]
    assert (case.watts, case.full_watts, case.base_watts, case.drawn_watts) == (700.0, 700.0, 600.0, 600.0)
    assert (case.was_on, case.switched) == (False, 4.0)
    assert wants.rooms["study"] == Demand(True, pytest.approx(950.0 / 1300.0), WARMING)
    assert wants.heaters == {COLUMN: (True, reason("base-on")), QUICK: (True, WARMING)}
    assert home.memory.rooms["study"].demand["several"]["since"] == NOW


@pytest.mark.parametrize(("control", "gain"), [("proportional", 26.0 * 700.0 / 1300.0), ("hysteresis", 26.0)])
def test_a_first_order_model_is_scaled_to_the_trim(monkeypatch, control, gain):
    """By its share of the room's power; other laws do that themselves."""
    home = two(monkeypatch, control)
    home.memory.models["study"] = {"gain_kelvin": 26.0}
    home.wants()
    assert home.cases[0].model["gain_kelvin"] == pytest.approx(gain)


def test_all_that_draws_in_a_room_is_counted(monkeypatch):
    """Both of its heaters."""
    home = two(monkeypatch)
    home.memory.heaters[QUICK].told_on, home.memory.heaters[QUICK].on_since = True, 3.0
    home.wants()
    assert home.cases[0].drawn_watts == 1300.0


def test_where_there_are_no_parts_all_heaters_follow_the_law(monkeypatch):
    """One that is pressed by hand leaves one: the law has both, and the press stands in for its part."""
    home = two(monkeypatch)
    home.memory.heaters[COLUMN].hand = HandMemory(False, NOW + 60.0, (NOON + timedelta(hours=1)).timestamp())
    wants = home.wants()
    assert (home.cases[0].watts, home.cases[0].was_on, home.cases[0].switched) == (1300.0, True, 4.0)
    assert wants.rooms["study"] == Demand(True, 0.5, WARMING)
    assert wants.heaters == {COLUMN: (False, reason("by-hand", until="13:00")), QUICK: (True, WARMING)}


def test_a_fault_in_sharing_out_ends_in_off(monkeypatch):
    """Also after the law has spoken, and where the law itself fails in a room of several."""
    home = two(monkeypatch)
    monkeypatch.setattr(demand.several, "spread", lambda *_: 1 / 0)
    failed = Demand(False, 0.0, reason("demand-failed", what="ZeroDivisionError"))
    wants = home.wants()
    assert (wants.rooms["study"], wants.heaters[QUICK]) == (failed, (False, failed.reason))
    home.answer = ValueError("broken")
    failed = Demand(False, 0.0, reason("demand-failed", what="ValueError"))
    wants = home.wants()
    assert (wants.rooms["study"], wants.heaters[COLUMN]) == (failed, (False, failed.reason))


def test_a_press_of_what_is_not_there_changes_nothing(monkeypatch):
    """A heater that the house no longer has."""
    home = Home(monkeypatch)
    home.memory.heaters["attic/oil"] = HeaterMemory(hand=HandMemory(True, NOW + 60.0, 0.0))
    assert set(home.wants().heaters) == {COLUMN, PANEL}


@pytest.mark.parametrize(
    ("ends", "on", "minutes"),
    [
        (NOW + 600.0, True, 10.0), (NOW + 90.0, True, 2.0), (NOW + 1.0, True, 1.0), (NOW, False, None),
        (NOW - 1.0, False, None), (None, False, None),
    ],
)  # fmt: skip
def test_a_spot_is_wanted_while_its_request_holds(ends, on, minutes):
    """It says the minutes that are left, each begun one counted, as the number beside it does."""
    home = Home()
    home.memory.spots["sewing table"] = RequestMemory("Ana", "", 0.0, ends, None)
    found = home.wants().heaters[PANEL]
    assert found == (on, reason("spot-on", minutes=minutes) if on else reason("spot-off"))


def test_a_law_is_given_what_is_forecast(monkeypatch):
    """As it was read; none where there is none."""
    home = Home(monkeypatch)
    home.wants()
    assert home.cases[0].forecast is None
    told = Forecast((1.0, -2.0), 60.0)
    home.readings = replace(home.readings, forecast=told)
    home.wants()
    assert home.cases[1].forecast is told


@pytest.mark.parametrize(("apart", "left"), [(14_400.0, 0), (14_401.0, 2)])
def test_a_night_is_the_same_as_the_one_that_was_counted_for_four_hours(monkeypatch, apart, left):
    """The clocks may have changed meanwhile, or its hours been written anew."""
    quiet = 'quiet = [{ from = "11:00", to = "14:00", switches = 2 }]'
    home = Home(monkeypatch, toml=study(room=quiet))
    home.memory.rooms["study"].quiet_window = (NOON - timedelta(hours=1)).timestamp() - apart
    home.memory.rooms["study"].quiet_used = 2
    home.wants()
    assert home.cases[0].hush.left == left
