"""What a learned model lets people be told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.stories.teller import house_of, study
from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants
from thermostatd.core.foretelling import foretold, knows
from thermostatd.core.memory import Memory
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand, Outlook
from thermostatd.core.said import said

WALL = datetime(2026, 1, 12, 6, 0, tzinfo=UTC)
NOW = Now(1000.0, 10.0, WALL, WALL, None, ZoneInfo("Europe/Oslo"))
OUTLOOK = Outlook(((1240.0, 18.2, 0.1),), 1000.0 + 1440.0, 20.0, None, None, -9.0)
KEY = "study/column"


def told(outlook: Outlook | None, *, on: bool = True, code: str = "warming") -> tuple[str, str]:
    """The room's code and sentence under an outlook."""
    numbers = {
        "warming": {"target": 20.0, "eta": ""},
        "preheating": {"target": 20.5, "minutes": 40.0},
        "warm-enough": {},
    }
    why = reason(code, **numbers[code])
    demand = Demand(on, 1.0 if on else 0.0, why, outlook)
    wants = foretold(house_of(study(zone="Europe/Oslo")), Wants({"study": demand}, {KEY: (on, why)}), NOW)
    assert wants.heaters[KEY] == (on, wants.rooms["study"].reason)
    return wants.rooms["study"].reason.code, wants.rooms["study"].reason.sentence


def test_it_says_when_it_will_be_warm() -> None:
    """The time stands on the house's own clock: 24 minutes from 07:00 in Oslo."""
    assert told(OUTLOOK) == ("warming", "Warming towards 20.0°. It will be 20.0° at 07:24.")


def test_without_a_model_nothing_is_foretold() -> None:
    """No outlook, no promise; nor while the heater is off, nor for what is there in two minutes or not tonight."""
    assert told(None)[1] == "Warming towards 20.0°."
    assert told(OUTLOOK, on=False, code="warm-enough")[1] == "Warm enough."
    for warm_at in (None, 1100.0, 1000.0 + 20 * 3600.0):
        assert told(replace(OUTLOOK, warm_at=warm_at))[1] == "Warming towards 20.0°."


@pytest.mark.parametrize("warm_at", [None, 1100.0, 1000.0 + 20 * 3600.0])
def test_where_a_model_decided_the_last_minutes_pace_is_not_told(warm_at: float | None) -> None:
    """It had said "in about 70 minutes" of a room that was warm in six: the pace knows nothing of what is in store."""
    pace = said(" There in about {span}.", span="70 minutes")
    why = reason("warming", target=20.0, eta=pace)
    house, wants = house_of(study(zone="Europe/Oslo")), {KEY: (True, why)}
    for outlook, sentence in ((replace(OUTLOOK, warm_at=warm_at), "Warming towards 20.0°."), (None, why.sentence)):
        after = foretold(house, Wants({"study": Demand(True, 1.0, why, outlook)}, wants), NOW)
        assert after.rooms["study"].reason.sentence == after.heaters[KEY][1].sentence == sentence


@pytest.mark.parametrize(
    ("minutes", "told_at"),
    [(89.4, "at 08:29."), (89.5, "at about 08:30."), (97.4, "at about 08:30."), (97.6, "at about 08:45."),
     (352.0, "at about 12:45.")],
)  # fmt: skip
def test_a_time_hours_ahead_is_told_to_the_quarter_of_an_hour(minutes: float, told_at: str) -> None:
    """A model's word of six hours was off by three quarters of one, and had been told to the minute."""
    assert told(replace(OUTLOOK, warm_at=1000.0 + 60.0 * minutes))[1].endswith(f"It will be 20.0° {told_at}")


def test_it_says_what_a_heater_cannot_do_by_then() -> None:
    """A rise that full power does not meet is told with the time, what it can do, and the cold it can hold."""
    weak = replace(
        OUTLOOK,
        wanted_celsius=20.5,
        wanted_at=1000.0 + 5400.0,
        reach_celsius=19.8,
        limit_outdoor_celsius=-4.2,
    )
    code, sentence = told(weak, code="preheating")
    assert code == "cannot-reach"
    assert sentence == (
        "This heater cannot reach 20.5° by 08:30: 19.8° is what it can do. It holds 20.5° down to -4° outside."
    )


def test_a_step_is_told_by_its_own_minute() -> None:
    """A tick that falls between two seconds leaves a step of 13:30 at 13:29:59.6: the week beside it says 13:30."""
    weak = replace(OUTLOOK, wanted_celsius=20.5, wanted_at=1000.0 + 5399.6, reach_celsius=19.8)
    by = told(weak, code="preheating")[1].partition(" by ")[2][:5]
    assert by == told(replace(weak, wanted_at=1000.0 + 5400.0), code="preheating")[1].partition(" by ")[2][:5]
    soon = replace(OUTLOOK, warm_at=1000.0 + 5399.6)
    assert told(soon)[1] == told(replace(soon, warm_at=1000.0 + 5400.0))[1]


def test_it_says_what_a_heater_cannot_hold() -> None:
    """Where the target of now is out of reach, the cold is named under which that is so."""
    weak = replace(OUTLOOK, warm_at=None, wanted_celsius=21.0, reach_celsius=19.8, limit_outdoor_celsius=-4.2)
    assert told(weak) == (
        "cannot-hold", "This heater cannot reach 21.0° below -4° outside: 19.8° is what it can do."
    )  # fmt: skip


def test_another_reason_is_left_alone() -> None:
    """Who pressed the button, or a spell that must be finished, is not talked over."""
    why = reason("by-hand", until="10:00")
    wants = Wants(
        {"study": Demand(True, 1.0, reason("warming", target=20.0, eta=""), OUTLOOK)}, {KEY: (True, why)}
    )
    assert foretold(house_of(study()), wants, NOW).heaters[KEY] == (True, why)


def memory(**thermal: float) -> Memory:
    """A memory with a learned room."""
    known = {"loss_watts_per_kelvin": 17.2, "loss_spread_watts_per_kelvin": 0.9, "settling_hours": 14.0,
             "settling_spread_hours": 1.5}  # fmt: skip
    return Memory(models={"study": {"thermal": known | thermal}})


def test_a_room_is_described_with_its_uncertainty() -> None:
    """Loss and time constant come with two standard deviations either way (derived: 17.2 ± 1.8, 14 ± 3)."""
    found = knows(memory(), "study")
    assert found is not None
    assert "about 17 W for each degree" in found.sentence
    assert "(15 to 19)" in found.sentence
    assert "about 14 hours (11 to 17)" in found.sentence


@pytest.mark.parametrize(("spread", "code"), [(6.99, "room-knows"), (7.0, "room-loses"), (90.0, "room-loses")])
def test_how_long_it_keeps_its_warmth_is_not_told_before_anything_is_known_of_it(spread: float, code: str) -> None:
    """Two deviations that reach down to nothing: the loss is told alone."""
    found = knows(memory(settling_spread_hours=spread), "study")
    assert found is not None
    assert found.code == code
    assert "about 17 W" in found.sentence
    assert ("hours" in found.numbers) is (code == "room-knows")


@pytest.mark.parametrize("thermal", [{"loss_watts_per_kelvin": float("nan")}, {"settling_hours": 0.0},
                                     {"loss_spread_watts_per_kelvin": None}])  # fmt: skip
def test_a_room_without_sound_numbers_is_not_described(thermal: dict) -> None:
    """A number that is not there, or not finite, is not told."""
    assert knows(memory(**thermal), "study") is None
    assert knows(Memory(), "study") is None


ROOMS = """
[[room]]
name = "{name}"
sensor = {{ topic = "{name}/air" }}
[[room.heater]]
name = "column"
watts = 600
plug = {{ kind = "simulated" }}
"""


def test_each_room_is_foretold_by_its_own_outlook() -> None:
    """What has none, or nothing better to say, is passed over; what was given is not changed."""
    house = house_of(
        study(more="".join(ROOMS.format(name=name) for name in ("attic", "den", "hall", "loft")))
    )
    why = reason("warming", target=20.0, eta="")
    outlooks = {
        "study": None,
        "attic": OUTLOOK,
        "den": replace(OUTLOOK, warm_at=None),
        "hall": OUTLOOK,
        "loft": None,
    }
    demands = {name: Demand(True, 1.0, why, outlook) for name, outlook in outlooks.items()}
    before = Wants(demands, {f"{name}/column": (True, why) for name in outlooks})
    after = foretold(house, before, NOW)
    for name in outlooks:
        told_when = "at" in after.rooms[name].reason.sentence
        assert told_when is (name in ("attic", "hall"))
        assert after.heaters[f"{name}/column"] == (True, after.rooms[name].reason)
    assert before.rooms["attic"].reason is why
    assert before.heaters["attic/column"] == (True, why)


@pytest.mark.parametrize(("left", "foreseen"), [(149.9, False), (150.0, True), (43200.0, True), (43200.1, False)])
def test_what_is_there_soon_or_not_for_half_a_day_is_not_foretold(left: float, foreseen: bool) -> None:
    """Two and a half minutes, twelve hours: at their edges."""
    assert ("It will be" in told(replace(OUTLOOK, warm_at=1000.0 + left))[1]) is foreseen


def test_the_least_and_the_most_of_a_room_are_two_deviations_away() -> None:
    """Never under nothing."""
    thermal = {"loss_watts_per_kelvin": 0.9, "loss_spread_watts_per_kelvin": 3.0, "settling_hours": 0.8,
               "settling_spread_hours": 0.3}  # fmt: skip
    found = knows(memory(**thermal), "study")
    assert found is not None
    assert found.numbers == pytest.approx(
        {"loss": 0.9, "loss_low": 0.0, "loss_high": 6.9, "hours": 0.8, "hours_low": 0.2, "hours_high": 1.4}
    )
    assert knows(memory(**thermal | {"loss_watts_per_kelvin": 0.0}), "study") is None
    assert knows(memory(**thermal | {"settling_hours": -1.0}), "study") is None
