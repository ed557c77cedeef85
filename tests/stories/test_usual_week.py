"""A usual week changed by people: it goes through the one door, holds over the file's, and can be put back."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.stories.teller import Story, study
from thermostatd.core.asking import Accepted, Refused, UsualWeek
from thermostatd.core.house import UsualStep
from thermostatd.core.regulator import Regulator
from thermostatd.core.usual_week import usual_step

ROOM = 'household = { lowest = 15, highest = 22, longest = "12 h" }'
EVERY = frozenset(range(7))


def step(at: str, celsius: float, days: frozenset[int] = EVERY) -> UsualStep:
    """One step."""
    return usual_step(days, int(at[:2]) * 60 + int(at[3:]), celsius)


def changed(*steps: UsualStep) -> tuple[Story, Any]:
    """A Monday noon in the study with these steps asked for, and the answer."""
    story = Story(study(room=ROOM), air=20.0).run(1)
    answer = story.do(UsualWeek("study", steps, "Ana"))
    return story.run(seconds=10), answer


def test_a_changed_week_is_used_at_once_and_survives_a_restart() -> None:
    """The target follows the new steps now, later, and after a restart; who changed it stays known."""
    story, answer = changed(step("06:00", 18.0), step("13:00", 21.0))
    assert isinstance(answer, Accepted)
    assert story.result.rooms["study"].target.celsius == 18.0
    assert story.at("13:00").result.rooms["study"].target.celsius == 21.0
    story.restart(down_seconds=5.0).run(1)
    assert story.result.rooms["study"].target.celsius == 21.0
    steps, kept = story.regulator.usual_week("study")
    assert steps == (step("06:00", 18.0), step("13:00", 21.0))
    assert kept is not None
    assert kept.who == "Ana"


def test_the_files_week_is_put_back() -> None:
    """With no steps of its own the room follows the file again; so it does when the same steps are asked."""
    story, _ = changed(step("06:00", 18.0))
    assert isinstance(story.do(UsualWeek("study", None, "Bo")), Accepted)
    assert story.run(seconds=10).result.rooms["study"].target.celsius == 20.0
    assert story.regulator.usual_week("study")[1] is None
    story.do(UsualWeek("study", (step("00:00", 20.0),)))
    assert story.regulator.usual_week("study")[1] is None


@pytest.mark.parametrize(
    ("steps", "code"),
    [
        ((step("06:00", 22.5),), "too-warm"),
        ((step("06:00", 14.5),), "too-cold"),
        ((step("06:00", 18.0), step("06:00", 19.0, frozenset({3}))), "week-step"),
        (tuple(step(f"{n // 4:02}:{n % 4 * 15:02}", 18.0) for n in range(57)), "week-too-long"),
        (("nonsense",), "not-understood"),
    ],
)
def test_what_cannot_be_a_week_is_refused(steps: Any, code: str) -> None:
    """The owner's limits hold for weeks too; a refusal changes nothing."""
    story, answer = changed(*steps)
    assert isinstance(answer, Refused)
    assert answer.code == code
    assert story.regulator.usual_week("study")[1] is None


def test_a_temperature_of_the_file_may_be_kept() -> None:
    """What the file itself uses outside of the household's limits may stay in a changed week."""
    story = Story(study(room=ROOM).replace("celsius = 20 }", "celsius = 12 }"), air=20.0).run(1)
    assert isinstance(story.do(UsualWeek("study", (step("00:00", 12.0), step("06:00", 18.0)))), Accepted)


def test_a_narrower_file_pulls_a_kept_week_inside() -> None:
    """A week kept in memory never passes limits that the owner tightened since."""
    story, _ = changed(step("06:00", 21.5))
    memory = json.loads(json.dumps(story.regulator.memory))
    limits = story.house.room("study").household.model_copy(update={"highest": 20.0})  # type: ignore[union-attr]
    room = story.house.rooms[0].model_copy(update={"household": limits})
    narrower = Regulator(story.house.model_copy(update={"rooms": (room,)}), memory)
    assert narrower.usual_week("study")[0][0].celsius == 20.0


def test_a_full_week_keeps_memory_small() -> None:
    """Fifty-six steps still leave a room's memory under 4 kB."""
    story, answer = changed(*(step(f"{n % 24:02}:{n // 24 * 15:02}", 15.5 + n % 12 * 0.5) for n in range(56)))
    assert isinstance(answer, Accepted)
    assert len(json.dumps(story.regulator.memory["rooms"]["study"])) < 4000


def test_an_unknown_room_is_refused() -> None:
    """A week for a room that is not there changes nothing."""
    story = Story(study(room=ROOM))
    for room in ("attic", None, 5):
        assert isinstance(story.do(UsualWeek(room, ())), Refused)  # type: ignore[arg-type]
