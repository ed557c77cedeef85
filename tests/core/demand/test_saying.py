"""Why a heater is off though its room is a little under its target. All invented."""

import pytest

from tests.core.demand.round_rooms import NOW, case, target
from thermostatd.core.demand.law import Hush
from thermostatd.core.demand.saying import warm

FEW = "0.4° under 20.0°. It heats again before long: more often would wear the plug."
NIGHT = {"begins": NOW - 600.0, "ends": NOW + 6000.0, "switches": 4, "until": "06:30"}


@pytest.mark.parametrize(
    ("celsius", "left", "code", "sentence"),
    [
        (19.66, None, "warm-enough", "Warm enough."),
        (19.64, None, "few-switchings", FEW),
        (19.66, 4, "warm-enough", "Warm enough."),
        (18.0, 2, "kept-for-later", "Quiet hours: 2 switchings are left until 06:30, and kept for later."),
        (18.0, 1, "quiet", "Quiet hours: its 4 switchings are used up until 06:30."),
        (18.0, 0, "quiet", "Quiet hours: its 4 switchings are used up until 06:30."),
    ],
)
def test_a_room_under_its_target_is_not_called_warm_enough(celsius, left, code, sentence):
    """By more than a third of a kelvin: it spares switchings, its own or the night's."""
    hush = None if left is None else Hush(left=left, **NIGHT)
    said = warm(case(celsius, target(20.0), hush=hush))
    assert (said.code, said.sentence) == (code, sentence)


def test_quiet_hours_that_only_come_are_no_reason_yet():
    """They hold from when they begin."""
    ahead = Hush(left=0, **NIGHT | {"begins": NOW + 1.0})
    assert warm(case(18.0, target(20.0), hush=ahead)).code == "few-switchings"
