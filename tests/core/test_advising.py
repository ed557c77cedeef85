"""What advice and wear are reckoned from, and how they are said, bound by bound. All invented."""

from types import SimpleNamespace

import pytest

from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core import advising
from thermostatd.core.advising import Counsel, body_of, counsel, room_loss, sheds_watts, wear_of
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import watts_of
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import AirMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.tally import RoomTally, SeasonTally
from thermostatd.physics.advice import Body, advise
from thermostatd.physics.wear import wear

DAY = 86400.0
SECOND = """
[[room.heater]]
name = "second"
watts = 400
plug = { kind = "simulated" }
"""
HOUSE = house_of(study(room="household = { lowest = 15 }\ndifferential = 0.6", heater="settings_watts = [600, 1200]",
                       more=SECOND + SPOT))  # fmt: skip
KNOWN = {"study": {"gain_kelvin": 40.0, "tau_seconds": 9000.0}}


def memory_of(*, model=KNOWN, tally=None, target=20.0, air=19.0, outdoor=2.0, second=None, **column):
    """A memory of the study; `column` is what is kept of its first heater."""
    return Memory(
        rooms={
            "study": RoomMemory(air=AirMemory(celsius=air), last_target=target, tally=tally or RoomTally())
        },
        heaters={
            COLUMN: HeaterMemory(**column),
            "study/second": HeaterMemory(**(second or {})),
            PANEL: HeaterMemory(),
        },
        models=model,
        outdoor=AirMemory(celsius=outdoor),
    )


@pytest.fixture
def given(monkeypatch):
    """What the arithmetic was given last."""
    seen = SimpleNamespace()

    def keep(*numbers, **named):
        seen.numbers, seen.named = numbers, named
        return advise(*numbers, **named)

    monkeypatch.setattr(advising, "advise", keep)
    return seen


def test_advice_is_reckoned_from_what_is_known(given):
    """Settings, the target, the learned loss (1000 W over 40 K), outdoors, three kelvins colder than of late."""
    counsel(HOUSE, memory_of(tally=RoomTally(coldest=-4.0)), COLUMN)
    assert given.numbers == ((600.0, 1200.0), 600.0, 20.0, 25.0, 2.0, -7.0)
    assert given.named == {
        "body": None, "sheds_watts": 0.0, "free_watts": 400.0, "min_on": 300.0, "min_off": 300.0,
        "room_tau_seconds": 9000.0, "half_band_kelvin": 0.3,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("target", "air", "aimed"),
    [(20.0, 19.0, 20.0), (None, 19.0, 19.0), (12.0, 19.0, 15.0), (None, 12.0, 15.0)],
)
def test_advice_is_for_the_target_or_the_air_and_no_lower_than_may_be_asked(given, target, air, aimed):
    """The usual week's last one."""
    counsel(HOUSE, memory_of(target=target, air=air), COLUMN)
    assert given.numbers[2] == aimed


@pytest.mark.parametrize(("coldest", "reckoned"), [(None, -1.0), (5.0, -1.0), (1.0, -2.0)])
def test_the_coldest_is_three_kelvins_under_the_colder_of_now_and_of_late(given, coldest, reckoned):
    """At 2 °C outdoors."""
    counsel(HOUSE, memory_of(tally=RoomTally(coldest=coldest)), COLUMN)
    assert given.numbers[5] == reckoned


@pytest.mark.parametrize(
    ("tally", "model", "free"),
    [
        (RoomTally(2 * DAY + 1.0, 300.0, 20.0), KNOWN, 200.0), (RoomTally(2 * DAY, 300.0, 20.0), KNOWN, 0.0),
        (RoomTally(2 * DAY + 1.0, 600.0, 20.0), KNOWN, 0.0), (RoomTally(2 * DAY + 1.0, 300.0, 20.0), {}, 0.0),
    ],
)  # fmt: skip
def test_what_a_learned_loss_leaves_over_is_free_heat(given, tally, model, free):
    """After two days; never under nothing; the other heater's 400 W come on top."""
    counsel(HOUSE, memory_of(tally=tally, model=model), COLUMN)
    assert given.named["free_watts"] == free + 400.0


@pytest.mark.parametrize(("sustained", "carries"), [(None, 400.0), (350.0, 350.0), (500.0, 400.0)])
def test_other_heaters_carry_what_they_sustain(given, sustained, carries):
    """No more than they are set to."""
    counsel(HOUSE, memory_of(second={"facts": HeaterFacts(sustained_watts=sustained)}), COLUMN)
    assert given.named["free_watts"] == carries


@pytest.mark.parametrize("tau", [None, 0.0, -5.0, float("nan"), "9"])
def test_a_room_whose_time_constant_is_not_known_is_taken_to_have_four_hours(given, tau):
    """14 400 s."""
    counsel(HOUSE, memory_of(model={"study": {"gain_kelvin": 40.0, "tau_seconds": tau}}), COLUMN)
    assert given.named["room_tau_seconds"] == 14400.0


@pytest.mark.parametrize(
    "missing",
    [
        {"outdoor": None},
        {"target": None, "air": None},
        {"model": {}},
        {"model": {"study": {"gain_kelvin": 0.0}}},
    ],
)
def test_without_its_numbers_there_is_no_advice(missing):
    """Outdoors, the air, the loss."""
    assert counsel(HOUSE, memory_of(**missing), COLUMN) is None


def test_a_spot_and_what_is_not_there_get_no_advice():
    """A key of the file that memory does not know either."""
    assert counsel(HOUSE, memory_of(), PANEL) is None
    assert counsel(HOUSE, memory_of(), "study/none") is None
    memory = memory_of()
    del memory.heaters[COLUMN]
    assert counsel(HOUSE, memory, COLUMN) is None


@pytest.mark.parametrize(
    ("model", "loss"),
    [
        ({"study": {"gain_kelvin": 40.0}}, (25.0, True)), ({"study": {"gain_kelvin": 0.0}}, (30.0, False)),
        ({"study": {"gain_kelvin": float("nan")}}, (30.0, False)), ({}, (30.0, False)), ({"study": {}}, (30.0, False)),
        ({"study": {"gain_kelvin": 0.5}}, (2000.0, True)),
    ],
)  # fmt: skip
def test_a_rooms_loss_is_its_models_or_what_it_took_of_late(model, loss):
    """A gain that is no gain counts for nothing."""
    memory = memory_of(model=model, tally=RoomTally(2 * DAY, 600.0, 20.0))
    assert room_loss(memory, HOUSE.rooms[0]) == loss


def test_a_room_without_heaters_takes_nothing_by_its_model():
    """What it took of late is all there is."""
    house = house_of(study(more='[[room]]\nname = "den"\nsensor = { topic = "d" }'))
    memory = Memory(rooms={"den": RoomMemory()}, models={"den": {"gain_kelvin": 40.0}})
    assert room_loss(memory, house.rooms[1]) == (None, False)


def test_what_is_known_of_a_body():
    """What it carried for hours, the least of it; where it opens, with its spread, and its time constant."""
    assert sheds_watts(HeaterMemory(body=BodyMemory(most=[90.0, 80.0]))) == watts_of(80.0)
    assert sheds_watts(HeaterMemory()) == 0.0
    whole = HeaterFacts(opens_watts=700.0, opens_spread_watts=20.0, body_tau_seconds=900.0)
    assert body_of(HeaterMemory(facts=whole)) == Body(700.0, 20.0, 900.0)
    assert body_of(HeaterMemory(facts=HeaterFacts(opens_watts=700.0, body_tau_seconds=900.0))) == Body(
        700.0, 0.0, 900.0
    )
    assert body_of(HeaterMemory(facts=HeaterFacts(opens_watts=700.0))) is None
    assert body_of(HeaterMemory(facts=HeaterFacts(body_tau_seconds=900.0))) is None


def test_advice_takes_the_body_into_account(given):
    """And what it sheds."""
    facts = HeaterFacts(opens_watts=700.0, opens_spread_watts=20.0, body_tau_seconds=900.0)
    counsel(HOUSE, memory_of(facts=facts, body=BodyMemory(most=[80.0])), COLUMN)
    assert (given.named["body"], given.named["sheds_watts"]) == (Body(700.0, 20.0, 900.0), watts_of(80.0))


@pytest.mark.parametrize(
    ("opens", "watts"),
    [(1200.0, 1000.0), (1000.0, 800.0), (1031.0, 1000.0), (None, None), (1238.0, None), (500.0, None)],
)
def test_an_opening_is_reason_enough_before_the_loss_is_known(opens, watts):
    """The highest setting under 97 % of where it opens; nothing where the present one is, or none is."""
    house = house_of(
        study(heater="settings_watts = [800, 1000, 1200]").replace("watts = 600", "watts = 1200")
    )
    memory = memory_of(model={}, facts=HeaterFacts(opens_watts=opens))
    found = counsel(house, memory, COLUMN)
    if watts is None:
        assert found is None
    else:
        words = f"Set it to its {watts:.0f} W setting: on 1200 W its cut-out opens. How cold it holds is not known yet."
        assert found == Counsel(COLUMN, "advice-opens", words, None, False)


def advice_of(change, holds, now_holds, opens):
    """An answer of the arithmetic."""
    best = SimpleNamespace(watts=800.0, holds=holds, holds_celsius=-12.0)
    current = SimpleNamespace(watts=1200.0, holds=now_holds, opens=opens, holds_celsius=-3.0)
    return SimpleNamespace(change=change, best=best, current=current, target_celsius=20.0, clicks_saved=-5.0)


@pytest.mark.parametrize(
    ("change", "holds", "now_holds", "opens", "code"),
    [
        (False, True, True, False, "advice-keep"), (False, False, False, False, "advice-weak"),
        (True, True, True, True, "advice-lower-opens"), (True, False, False, True, "advice-least-weak"),
        (True, True, True, False, "advice-lower"), (True, True, False, None, "advice-higher"),
    ],
)  # fmt: skip
def test_what_is_said_goes_by_what_holds_and_what_opens(monkeypatch, change, holds, now_holds, opens, code):
    """With the numbers of both settings; clicks that are not saved are none."""
    answer = advice_of(change, holds, now_holds, opens)
    monkeypatch.setattr(advising, "advise", lambda *_, **__: answer)
    found = counsel(HOUSE, memory_of(), COLUMN)
    assert (found.key, found.code, found.advice, found.learned_loss) == (COLUMN, code, answer, True)
    assert found.sentence.numbers == {
        "watts": 800.0, "now": 1200.0, "target": 20.0, "outdoor": -12.0, "held": -3.0, "more": 0.0
    }  # fmt: skip
    answer.clicks_saved = 7.0
    assert counsel(HOUSE, memory_of(), COLUMN).sentence.numbers["more"] == 7.0


def test_wear_is_of_all_time_and_of_this_season():
    """Switchings, hours and openings since it began; a count that was lost is none."""
    memory = memory_of(operations=1000, on_seconds=9e6, facts=HeaterFacts(trip_count=12))
    memory.season = SeasonTally(5000.0, 9e9, {COLUMN: (400, 4e6, 2)})
    house = house_of(study())
    rated = house.rooms[0].heaters[0].plug.rated_operations
    assert wear_of(house, memory, COLUMN, 5000.0 + 30 * DAY) == wear(
        1000, 9e6, 12, rated_operations=rated, season_seconds=30 * DAY, season_switchings=600, season_on_seconds=5e6,
        season_openings=10, days_a_year=180.0,
    )  # fmt: skip
    memory.season = SeasonTally(5000.0, 9e9, {COLUMN: (1400, 1e7, 20)})
    assert wear_of(house, memory, COLUMN, 4000.0) == wear(1000, 9e6, 12, rated_operations=rated)
    memory.season = SeasonTally()
    assert wear_of(house, memory, COLUMN, 30 * DAY) == wear(
        1000,
        9e6,
        12,
        rated_operations=rated,
        season_switchings=1000,
        season_on_seconds=9e6,
        season_openings=12,
    )
    assert wear_of(house, memory, "study/none", 0.0) is None
    del memory.heaters[COLUMN]
    assert wear_of(house, memory, COLUMN, 0.0) is None


@pytest.mark.parametrize(
    ("before", "left"), [({}, (1000, 9e6, 12)), ({COLUMN: (1400, 1e7, 20)}, (0, 0.0, 0))]
)
def test_a_season_counts_from_nothing_where_its_beginning_is_not_known(before, left):
    """As of a heater that came later; a count that was lost since is none."""
    memory = memory_of(operations=1000, on_seconds=9e6, facts=HeaterFacts(trip_count=12))
    memory.season = SeasonTally(5000.0, 9e9, before)
    house = house_of(study())
    assert wear_of(house, memory, COLUMN, 5000.0 + 30 * DAY) == wear(
        1000, 9e6, 12, rated_operations=house.rooms[0].heaters[0].plug.rated_operations, season_seconds=30 * DAY,
        season_switchings=left[0], season_on_seconds=left[1], season_openings=left[2],
    )  # fmt: skip


def test_every_other_heater_of_the_room_carries(given):
    """The sum of them."""
    house = house_of(
        study(heater="settings_watts = [600, 1200]", more=SECOND + SECOND.replace("second", "third"))
    )
    memory = memory_of()
    memory.heaters["study/third"] = HeaterMemory(facts=HeaterFacts(sustained_watts=150.0))
    counsel(house, memory, COLUMN)
    assert given.named["free_watts"] == 550.0


def test_settings_that_are_not_written_are_those_of_its_kind(given):
    """An oil-filled heater of 1500 W has 588, 912 and 1500 W (common practice, no published source)."""
    house = house_of(study().replace("watts = 600", "watts = 1500"))
    counsel(house, memory_of(), COLUMN)
    assert given.numbers[0] == pytest.approx((588.0, 912.0, 1500.0))
    memory = memory_of(model={}, facts=HeaterFacts(opens_watts=1100.0))
    assert counsel(house, memory, COLUMN).sentence.numbers["watts"] == pytest.approx(912.0)


def test_a_setting_at_97_percent_of_where_it_opens_is_low_enough():
    """At the edge."""
    house = house_of(study(heater="settings_watts = [485, 970, 1200]").replace("watts = 600", "watts = 1200"))
    memory = memory_of(model={}, facts=HeaterFacts(opens_watts=1000.0))
    assert counsel(house, memory, COLUMN).sentence.numbers["watts"] == 970.0
    house = house_of(study(heater="settings_watts = [485, 970]").replace("watts = 600", "watts = 970"))
    assert counsel(house, memory, COLUMN) is None
