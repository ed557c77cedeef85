"""The owner has looked at a heater that was covered or at its dial: what it did before says no more."""

from __future__ import annotations

import pytest

from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter import diagnosis


@pytest.mark.parametrize("code", ["covered", "opens-early", "dial-down"])
def test_once_the_owner_has_looked_the_count_begins_anew(code):
    """Openings before it, the one that is not back yet among them, are not held against the heater again."""
    kept = HeaterMemory(
        notes={
            "meter": {"code": "dial-down", "cycles": [[1.0, 0.4, 200]]} if code == "dial-down" else
            {"cycles": [[1.0, 0.4, 200]]},
            "cut-out": {"log": {"ev": []}, "gone": {"at": 5.0}, "hot": 3.0},
        },
        body=BodyMemory(fall=Lesson(1.0, [1.0] * CANDIDATES, [1.0] * CANDIDATES)),
    )  # fmt: skip
    diagnosis.accept(kept, code)
    assert kept.notes == {"meter": {}, "cut-out": {"hot": 3.0}}
    assert kept.body.fall is None


def test_another_trouble_that_was_seen_leaves_them():
    """Seen of a bad socket says nothing of what opened early."""
    notes = {"meter": {"cycles": [[1.0, 0.4, 200]]}, "cut-out": {"log": {"ev": []}, "gone": {"at": 5.0}}}
    kept = HeaterMemory(notes={name: dict(value) for name, value in notes.items()})
    diagnosis.accept(kept, "bad-socket")
    assert kept.notes == notes
