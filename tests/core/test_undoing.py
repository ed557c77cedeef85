"""What a request took the place of, kept and put back. All invented."""

import pytest

from tests.core.guard.cases import NOW, now_at
from thermostatd.core.memory import (
    ChangeMemory,
    HandMemory,
    HeaterMemory,
    Memory,
    RequestMemory,
    RoomMemory,
    WeekMemory,
)
from thermostatd.core.undoing import Held, about_of, held, remember_change, take_back

ASKED, OTHER = RequestMemory("Ana", "", 1.0, 2.0, 3.0, 20.0), RequestMemory("Bo", "", 1.0, 2.0, 3.0, 21.0)
WEEK, HAND = WeekMemory([], "Ana", 1.0), HandMemory(True, 9.0, 9.0)


def memory_of(**how):
    """A study and its heater."""
    return Memory(rooms={"study": RoomMemory()}, heaters={"study/column": HeaterMemory()}, **how)


def test_everything_that_a_request_can_change_is_held():
    """By name; a copy, so that a later change of it is seen."""
    memory = memory_of(out=ASKED, all_off=OTHER, spots={"desk": ASKED})
    memory.rooms["study"] = RoomMemory(request=OTHER, week=WEEK, later=[ASKED])
    memory.heaters["study/column"].hand = HAND
    found = held(memory, ("desk", "bench"))
    assert found == Held(
        {"out": ASKED, "all-off": OTHER, "room study": OTHER, "spot desk": ASKED, "spot bench": None},
        {"study": WEEK},
        {"study/column": HAND},
        {"study": [ASKED]},
    )
    assert found.later["study"][0] is not ASKED
    assert found.requests["out"] is not memory.out


EMPTY = Held(
    {"out": None, "room study": None, "spot desk": None}, {"study": None}, {"study/column": None}, {"study": []}
)


def changed(*, requests=None, weeks=None, hands=None, later=None):
    """What holds after something of it has changed."""
    return Held(
        EMPTY.requests | (requests or {}),
        EMPTY.weeks | (weeks or {}),
        EMPTY.hands | (hands or {}),
        EMPTY.later | (later or {}),
    )


@pytest.mark.parametrize(
    "after",
    [
        changed(requests={"room study": ASKED}),
        changed(weeks={"study": WEEK}),
        changed(hands={"study/column": HAND}),
        changed(later={"study": [ASKED]}),
    ],
)
def test_what_differs_is_kept_for_a_minute_and_ten_seconds(after):
    """With a number of its own."""
    memory = memory_of(change_count=4)
    assert remember_change(memory, EMPTY, after, now_at()) == 5
    assert memory.change_count == 5
    (kept,) = memory.changes
    assert (kept.number, kept.ends) == (5, NOW + 70.0)
    assert (bool(kept.requests), bool(kept.weeks), bool(kept.hands), bool(kept.later)) == (
        after.requests != EMPTY.requests,
        after.weeks != EMPTY.weeks,
        after.hands != EMPTY.hands,
        after.later != EMPTY.later,
    )
    assert [*kept.requests.values(), *kept.weeks.values(), *kept.hands.values(), *kept.later.values()] in ([None], [[]])


def test_what_changes_nothing_is_no_change():
    """It has no number."""
    memory = memory_of()
    assert remember_change(memory, EMPTY, EMPTY, now_at()) is None
    assert (memory.changes, memory.change_count) == ([], 0)


@pytest.mark.parametrize(
    ("kept", "stays"),
    [
        (ChangeMemory(1, NOW + 1.0, {"out": ASKED}), True),
        (ChangeMemory(1, NOW, {"out": ASKED}), False),
        (ChangeMemory(1, NOW + 1.0, {"room study": None}), False),
        (ChangeMemory(1, NOW + 1.0, {}, {"study": None}), False),
        (ChangeMemory(1, NOW + 1.0, {}, {}, {"study/column": None}), False),
        (ChangeMemory(1, NOW + 1.0, {}, {}, {}, {"study": []}), False),
        (ChangeMemory(1, NOW + 1.0, {}, {"den": None}), True),
    ],
)
def test_a_later_change_of_the_same_thing_makes_an_earlier_one_final(kept, stays):
    """And so does its time."""
    memory = memory_of(changes=[kept])
    remember_change(
        memory,
        EMPTY,
        changed(
            requests={"room study": ASKED},
            weeks={"study": WEEK},
            hands={"study/column": HAND},
            later={"study": [ASKED]},
        ),
        now_at(),
    )
    assert (kept in memory.changes) is stays


def test_one_tap_puts_back_what_held():
    """Everything of it, and the change is gone; what has left the house stays away."""
    change = ChangeMemory(
        3,
        NOW + 1.0,
        {
            "out": ASKED,
            "all-off": OTHER,
            "room study": ASKED,
            "room attic": ASKED,
            "spot desk": OTHER,
            "spot bench": None,
        },
        {"study": WEEK, "attic": WEEK},
        {"study/column": HAND, "attic/oil": HAND},
        {"study": [OTHER], "attic": [OTHER]},
    )
    memory = memory_of(changes=[ChangeMemory(2, NOW + 1.0), change], spots={"bench": ASKED})
    assert take_back(memory, 3, now_at()) is change
    assert (memory.out, memory.all_off, memory.spots) == (ASKED, OTHER, {"desk": OTHER})
    assert list(memory.rooms) == ["study"]
    assert (memory.rooms["study"].request, memory.rooms["study"].week) == (ASKED, WEEK)
    assert memory.rooms["study"].later == [OTHER]
    assert (list(memory.heaters), memory.heaters["study/column"].hand) == (["study/column"], HAND)
    assert [one.number for one in memory.changes] == [2]


@pytest.mark.parametrize(
    ("number", "ends", "found"),
    [(3, NOW + 1.0, True), (3, NOW, False), (4, NOW + 1.0, False), ("3", NOW + 1.0, False)],
)
def test_only_a_change_that_still_may_be_undone_is(number, ends, found):
    """By its number, within its time."""
    memory = memory_of(changes=[ChangeMemory(3, ends, {"out": ASKED})])
    assert (take_back(memory, number, now_at()) is not None) is found
    assert (memory.out is not None) is found


def test_a_spot_that_was_not_running_may_have_ended_already():
    """Nothing to take away is no fall."""
    memory = memory_of(changes=[ChangeMemory(3, NOW + 1.0, {"spot desk": None})])
    take_back(memory, 3, now_at())
    assert memory.spots == {}


@pytest.mark.parametrize(
    ("change", "about"),
    [
        (ChangeMemory(1, 0.0, {"room sewing room": None}), "sewing room"),
        (ChangeMemory(1, 0.0, {"spot desk": None}), "desk"),
        (ChangeMemory(1, 0.0, {"out": None}), "house"),
        (ChangeMemory(1, 0.0, {"all-off": None, "spot desk": None}), "house"),
        (ChangeMemory(1, 0.0, {}, {"study": None}), "study"),
        (ChangeMemory(1, 0.0, {}, {}, {}, {"study": []}), "study"),
        (ChangeMemory(1, 0.0, {"room a": None}, {"b": None}), "house"),
        (ChangeMemory(1, 0.0, {"room a": None}, {"a": None}), "a"),
        (ChangeMemory(1, 0.0), "house"),
    ],
)
def test_a_change_is_about_one_place_or_the_house(change, about):
    """By its name, whole."""
    assert about_of(change) == about
