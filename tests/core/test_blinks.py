"""Plugs that go OFF in one moment are no hand's. All invented."""

import pytest

from tests.core.guard.cases import NOW
from tests.stories.teller import COLUMN, PANEL
from thermostatd.core.blinks import forget_blinks
from thermostatd.core.memory import HandMemory, HeaterMemory, Memory
from thermostatd.core.results import Event


def off(at, told_on=True, hand=False):
    """A heater whose plug went OFF then."""
    return HeaterMemory(
        hand=HandMemory(hand, NOW + 60.0, 0.0), settled_at=at, told_on=told_on, answered=True, shown_on=False
    )


@pytest.mark.parametrize(
    ("first", "second", "blinked"),
    [
        (off(NOW), off(NOW), True),
        (off(NOW), off(NOW - 3.0), True),
        (off(NOW - 3.0), off(NOW), True),
        (off(NOW), off(NOW - 3.1), False),
        (off(NOW), off(None), False),
        (off(NOW), off(NOW, hand=True), False),
        (off(NOW), HeaterMemory(settled_at=NOW), False),
    ],
)
def test_two_that_go_off_together_were_not_pressed(first, second, blinked):
    """Their hands are forgotten, and nothing of them is told; one alone is a press."""
    memory = Memory(heaters={COLUMN: first, PANEL: second})
    other = Event("pressed-on", PANEL, "")
    found = forget_blinks(memory, [Event("pressed-off", COLUMN, ""), other], NOW)
    assert (memory.heaters[COLUMN].hand is None) is blinked
    assert (other in found, len(found)) == (True, 1 if blinked else 2)
    assert memory.heaters[COLUMN].answered is not blinked
    assert memory.heaters[COLUMN].unanswered_since == (NOW if blinked else None)


def test_one_that_was_told_off_owes_no_answer():
    """It is off as it should be."""
    memory = Memory(heaters={COLUMN: off(NOW, told_on=False), PANEL: off(NOW, told_on=False)})
    assert forget_blinks(memory, [], NOW) == []
    assert (memory.heaters[COLUMN].hand, memory.heaters[COLUMN].unanswered_since) == (None, None)
