"""Undo: one tap within a minute puts back exactly what held before."""

from __future__ import annotations

from typing import Any

import pytest

from tests.stories.teller import SPOT, Story, study
from thermostatd.core.asking import (
    NO_END,
    Accepted,
    AllOff,
    Ask,
    Cancel,
    Out,
    Refused,
    Seen,
    Undo,
    UsualWeek,
    WarmMe,
)
from thermostatd.core.usual_week import usual_step

ROOM = 'household = { lowest = 15, highest = 22, longest = "12 h" }'


def house() -> Story:
    """The study and the sewing table, Ana having asked 21° and Bo for warmth."""
    story = Story(study(room=ROOM, more=SPOT), air=20.0).run(1)
    story.ask(21.0, NO_END)
    story.do(WarmMe("sewing table", 40, "Bo"))
    return story.run(2)


def holds(story: Story) -> dict[str, Any]:
    """What people asked, as memory has it."""
    memory = story.regulator.memory
    hands = {key: heater["hand"] for key, heater in memory["heaters"].items()}
    rooms = {name: (room["request"], room.get("week")) for name, room in memory["rooms"].items()}
    return {**{name: memory[name] for name in ("out", "all_off", "spots")}, "rooms": rooms, "hands": hands}


@pytest.mark.parametrize(
    "request_",
    [
        Ask("study", 19.0, NO_END, "Bo"),
        WarmMe("sewing table", 20, "Ana"),
        Out(NO_END, "Bo"),
        AllOff("Bo"),
        Cancel("study", "Bo"),
        Cancel("sewing table", "Bo"),
        UsualWeek("study", (usual_step({0}, 420, 19.0),), "Bo"),
    ],
    ids=lambda one: type(one).__name__,
)
def test_undo_puts_back_exactly_what_held(request_: Any) -> None:
    """Whatever was asked, undoing it leaves memory as it was before: who, degrees, ends and presses."""
    story = house()
    story.press(True)
    story.run(1)
    before = holds(story)
    answer = story.do(request_)
    assert isinstance(answer, Accepted)
    assert answer.change is not None
    assert holds(story) != before
    assert isinstance(story.do(Undo(answer.change, "Bo")), Accepted)
    assert holds(story) == before


def test_undo_is_for_a_minute_and_once() -> None:
    """After its minute, or a second time, there is nothing to undo, and nothing changes."""
    story = house()
    answer = story.ask(19.0, NO_END)
    assert isinstance(answer, Accepted)
    story.run(seconds=50)
    assert isinstance(story.do(Undo(answer.change or 0)), Accepted)
    again = story.do(Undo(answer.change or 0))
    assert isinstance(again, Refused)
    assert again.code == "nothing-to-undo"
    answer = story.ask(19.0, NO_END)
    assert isinstance(answer, Accepted)
    story.run(seconds=80)
    before = holds(story)
    assert isinstance(story.do(Undo(answer.change or 0)), Refused)
    assert holds(story) == before


def test_someone_elses_later_wish_is_not_undone() -> None:
    """An undo of what was replaced since is refused; one of another place still holds."""
    story = house()
    mine = story.ask(19.0, NO_END)
    spot = story.do(WarmMe("sewing table", 20, "Ana"))
    story.do(Ask("study", 18.0, NO_END, "Bo"))
    assert isinstance(mine, Accepted)
    assert isinstance(spot, Accepted)
    assert isinstance(story.do(Undo(mine.change or 0)), Refused)
    assert isinstance(story.do(Undo(spot.change or 0)), Accepted)
    assert story.run(seconds=10).result.rooms["study"].target.celsius == 18.0


def test_what_ended_meanwhile_stays_ended() -> None:
    """A spot whose time ran out in the minute is not lit again by an undo."""
    story = Story(study(room=ROOM, more=SPOT), air=20.0).run(1)
    story.do(WarmMe("sewing table", 0.5, "Bo"))
    answer = story.do(WarmMe("sewing table", 30, "Ana"))
    assert isinstance(answer, Accepted)
    story.run(seconds=45)
    assert isinstance(story.do(Undo(answer.change or 0)), Accepted)
    assert not story.run(seconds=10).result.spots["sewing table"].on


def test_what_the_owner_saw_cannot_be_unseen() -> None:
    """Seen is no change that can be undone; a number that was never given undoes nothing."""
    story = house()
    assert isinstance(story.do(Seen("x/y")), Refused)
    assert isinstance(story.do(Undo(999)), Refused)
    assert isinstance(story.do(Undo("1")), Refused)  # type: ignore[arg-type]


def test_nothing_is_undone_over_a_restart() -> None:
    """After a restart a change is final."""
    story = house()
    answer = story.ask(19.0, NO_END)
    assert isinstance(answer, Accepted)
    story.restart(down_seconds=1.0)
    assert isinstance(story.do(Undo(answer.change or 0)), Refused)
