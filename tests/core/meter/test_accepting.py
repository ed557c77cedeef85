"""The owner has looked at a heater that was covered or at its dial: what it did before says no more."""

from __future__ import annotations

import pytest

from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter.diagnosis import accepting


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
    accepting.accept(kept, code)
    assert kept.notes == {"meter": {}, "cut-out": {"hot": 3.0}}
    assert kept.body.fall is None


def test_another_trouble_that_was_seen_leaves_them():
    """Seen of a bad socket says nothing of what opened early."""
    notes = {"meter": {"cycles": [[1.0, 0.4, 200]]}, "cut-out": {"log": {"ev": []}, "gone": {"at": 5.0}}}
    kept = HeaterMemory(notes={name: dict(value) for name, value in notes.items()})
    accepting.accept(kept, "bad-socket")
    assert kept.notes == notes


def accepted(notes, code):
    """The notes once the owner has looked at that trouble."""
    kept = HeaterMemory(notes=notes)
    accepting.accept(kept, code)
    return kept.notes


TOLD = {
    "code": "less-power",
    "evidence": "as seen",
    "level": 900.0,
    "low": [900.0, 1],
    "share": 0.5,
    "cycles": [],
}


def test_what_it_draws_now_is_its_usual_power():
    """The trouble is over, and a look at another trouble leaves it."""
    assert accepted({"meter": TOLD | {"usual": 1500.0, "runs": 5}}, "less-power") == {
        "meter": {"usual": 900.0, "runs": 5}
    }
    other = {"meter": TOLD | {"usual": 1500.0}}
    assert accepted({"meter": dict(other["meter"])}, "element-out") == other
    assert accepted({}, "less-power") == {}


def test_a_look_at_the_dial_changes_no_usual_power():
    """The dial has no level, whatever stands there."""
    notes = {
        "meter": {"code": "dial-down", "evidence": "as seen", "level": 900.0, "share": 0.4, "usual": 1500.0}
    }
    assert accepted(notes, "dial-down") == {"meter": {"usual": 1500.0}}


@pytest.mark.parametrize(("code", "stays"), [("opens-early", False), ("covered", True), ("dial-down", True)])
def test_an_early_opening_that_was_seen_ends_what_was_held_a_cover(code, stays):
    """A cover itself is cleared by its own interlock."""
    assert ("covered" in accepted({"covered": {"tries": 2}}, code)) is stays
    assert accepted({}, code) == {}


@pytest.mark.parametrize(
    ("cut_out", "then"),
    [
        (
            {"proven": [[1500.0, 800.0]]},
            {"proven": [[1500.0, 800.0]], "looked": True, "hot_yet": True},
        ),
        ({"proven": [[1500.0, 800.0]], "looked": True}, {}),
        ({"looked": True}, {}),
        ({"hot": 3.0}, {"hot": 3.0}),
    ],
)
def test_looked_at_twice_without_a_long_run_between_it_is_learned_anew(cut_out, then):
    """It stands so: what it stood before says nothing of it here."""
    assert accepted({"cut-out": dict(cut_out)}, "covered") == {"cut-out": then}
    assert accepted({"cut-out": dict(cut_out)}, "bad-socket") == {"cut-out": cut_out}
