"""The usual week on the page: seen by all, changed by whom the owner allows, a day copied, put back."""

from __future__ import annotations

import re

import pytest

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from thermostatd.core.asking import UsualWeek
from thermostatd.edge.pages.week_page import days_of, steps_of_days

WEEK = "/room/study/week"
MORNING = {"day": "0", "unit": "C", "at-0": "06:30", "degrees-0": "21", "at-1": "22:00", "degrees-1": "16"}


def steps(house: Double) -> dict[int, list[tuple[int, float]]]:
    """The week in force in the study, by day."""
    return days_of(house.usual_week("study").steps)


def test_everyone_sees_the_week_and_the_owner_changes_it(visit: Visit, house: Double) -> None:
    """The household sees steps in words and no form; the owner's form changes one day at once."""
    page = visit().get(WEEK).text
    assert "20° from 07:30, 16° from 22:00" in page
    assert "Only the owner changes" in page
    assert '<form class="panel steps"' not in page
    assert visit().post(WEEK, data=MORNING).status_code == 403
    owner = visit("owner", name="Bo")
    assert owner.post(WEEK, data=MORNING).headers["location"] == "/room/study/week?day=0"
    assert steps(house)[0] == [(390, 21.0), (1320, 16.0)]
    assert steps(house)[1] == [(450, 20.0), (1320, 16.0)]
    page = owner.get(WEEK).text
    assert "Changed on the page by Bo" in page
    assert "Undo" in page
    assert isinstance(house.asked[-1], UsualWeek)


def test_the_owner_may_let_the_household_change_weeks(visit: Visit, house: Double) -> None:
    """With `weeks = "household"` everyone who lives there may; a guest may not."""
    pages = house.house.pages.model_copy(update={"weeks": "household"})
    house.house = house.house.model_copy(update={"pages": pages})
    assert visit().post(WEEK, data=MORNING).status_code == 303
    assert visit("guest").post(WEEK, data=MORNING).status_code == 403
    assert visit("room-guest", room="study").post(WEEK, data=MORNING).status_code == 403


def test_a_day_is_copied_and_the_file_put_back(visit: Visit, house: Double) -> None:
    """Ticked days get the same steps; the house file's week comes back whole; undo brings the change again."""
    owner = visit("owner")
    before = house.usual_week("study").steps
    owner.post(WEEK, data={**MORNING, "also-5": "1", "also-6": "1"})
    assert steps(house)[5] == steps(house)[6] == steps(house)[0] == [(390, 21.0), (1320, 16.0)]
    assert owner.post(f"{WEEK}/back").status_code == 303
    assert house.usual_week("study").steps == before
    assert house.usual_week("study").who is None
    owner.post("/undo")
    assert steps(house)[5] == [(390, 21.0), (1320, 16.0)]


def test_empty_lines_go_and_new_ones_come_in_order(visit: Visit, house: Double) -> None:
    """Two empty fields are no step; steps may be written in any order, and with a decimal comma."""
    owner = visit("owner")
    owner.post(WEEK, data={"day": "2", "at-0": "", "degrees-0": "", "at-1": "21:00", "degrees-1": "17,5",
                           "at-3": "8:15", "degrees-3": "19"})  # fmt: skip
    assert steps(house)[2] == [(495, 19.0), (1260, 17.5)]
    owner.post(WEEK, data={"day": "2"})
    assert steps(house)[2] == []


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"at-0": "25:00"}, "hours and minutes"),
        ({"degrees-0": "warm"}, "degrees as a number"),
        ({"degrees-0": ""}, "needs its time and its degrees"),
        ({"at-1": ""}, "needs its time and its degrees"),
        ({"degrees-0": "29"}, "22.0° is the warmest"),
        ({"degrees-0": "99"}, "22.0° is the warmest"),
        ({"degrees-0": "-400"}, "15.0° is the coolest"),
        ({"degrees-0": "9"}, "15.0° is the coolest"),
        ({"at-1": "06:30"}, "twice on one day"),
        ({"day": "7"}, "Choose a day"),
        ({"day": ""}, "Choose a day"),
    ],
)
def test_a_refused_week_changes_nothing(
    visit: Visit, house: Double, fields: dict[str, str], said: str
) -> None:
    """What cannot be is told in words, what was typed stays in its fields, and the week is as it was."""
    before = house.usual_week("study").steps
    answer = visit("owner").post(WEEK, data={**MORNING, **fields})
    assert answer.status_code == 422
    assert said in answer.text
    assert house.usual_week("study").steps == before
    if "day" not in fields:
        assert 'value="22:00"' in answer.text or "at-1" in fields


def test_fahrenheit_does_not_creep(visit: Visit, house: Double) -> None:
    """A week shown in °F and kept unchanged stays what it was to the hundredth."""
    owner = visit("owner")
    owner.post("/degrees", data={"unit": "F"})
    page = owner.get(f"{WEEK}?day=0").text
    fields = dict(re.findall(r'name="((?:at|degrees)-\d)"[^>]* value="([^"]*)"', page))
    before = house.usual_week("study").steps
    assert fields["degrees-1"] == "60.8"  # 16 × 1.8 + 32
    owner.post(WEEK, data={"day": "0", "unit": "F", **fields})
    assert house.usual_week("study").steps == before
    owner.post(WEEK, data={"day": "0", "unit": "F", **fields, "degrees-0": "70"})
    assert steps(house)[0][0] == (450, 21.11)  # (70 − 32) / 1.8, derived


def test_when_heating_really_begins(visit: Visit, house: Double) -> None:
    """Where the room heats early, the week says when, in words and as a stroke before the step."""
    rise = house.wall.timestamp() + (15 * 60 + 18) * 60  # Tuesday 07:30
    house.early["study"] = [(rise, rise - 100 * 60)]
    page = visit().get(f"{WEEK}?day=1").text
    assert "20° from 07:30 (heating begins about 05:50)" in page
    assert 'class="early"' in page


def test_days_and_steps_are_the_same_week(house: Double) -> None:
    """A week taken apart by days and put together again is the same week."""
    for room in house.house.rooms:
        assert days_of(steps_of_days(days_of(room.usual))) == days_of(room.usual)


def test_the_api_takes_weeks_too(visit: Visit, house: Double) -> None:
    """POST /api/week sets and puts back; a malformed step is refused with the reason."""
    owner = visit("owner")
    body = {"room": "study", "steps": [{"days": "mon-fri", "at": "07:00", "celsius": 19.5}]}
    told = owner.post("/api/week", json=body).json()
    assert told["change"]
    assert steps(house)[4] == [(420, 19.5)]
    assert owner.post("/api/undo", json={"change": told["change"]}).status_code == 200
    assert steps(house)[4] == [(450, 20.0), (1320, 16.0)]
    assert owner.post("/api/week", json={"room": "study", "steps": None}).status_code == 200
    for wrong in ({"days": "someday"}, {"at": "24:30"}, {"celsius": 99}):
        bad = {"room": "study", "steps": [{"days": "daily", "at": "07:00", "celsius": 19.5, **wrong}]}
        assert owner.post("/api/week", json=bad).status_code == 422
