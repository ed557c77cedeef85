"""When something is held to keep a body from its warmth, at the edges. All invented; times are steady seconds."""

import pytest

from tests.core.guard.cases import NOW, case_of
from thermostatd.core.meter.diagnosis import suspicion


@pytest.mark.parametrize(
    ("cycles", "suspected"),
    [
        ([], False), ([[NOW - 60.0, 0.79, 300.0]], True), ([[NOW - 60.0, 0.8, 300.0]], False),
        ([[NOW - 10_799.0, 0.5, 300.0]], True), ([[NOW - 10_800.0, 0.5, 300.0]], False),
        ([[NOW - 60.0, 0.9, 300.0], [NOW - 50.0, 0.5, 300.0]], True),
    ],
)  # fmt: skip
def test_an_early_opening_of_the_last_three_hours_is_suspicious(cycles, suspected):
    """Under four fifths of what it has stood."""
    case = case_of(notes={"meter": {"cycles": cycles}})
    assert suspicion.may_be_at_its_dial(case) is suspected
    assert suspicion.suspects(case) is suspected


@pytest.mark.parametrize(
    ("notes", "suspected"),
    [({}, False), ({"meter": {"code": "dial-down"}}, True), ({"meter": {"code": "element-out"}}, False),
     ({"covered": {"tries": 1}}, True), ({"covered": {"tries": 0}}, False), ({"covered": {}}, False)],
)  # fmt: skip
def test_a_cover_or_a_dial_that_was_named_is_suspected(notes, suspected):
    """Until it is gone."""
    assert suspicion.suspects(case_of(notes=notes)) is suspected
