"""When a run of a heater with a slow meter may begin, so that a report tells of it at once. Steady seconds."""

import pytest

from tests.core.guard.cases import NOW, case_of, now_at
from thermostatd.core.guard.soon import is_told_soon, report_in

PERIOD = 300.0


def told(report_at, step=10.0, turn=0):
    """Whether a start now is told soon, the next report coming so many seconds from now."""
    case = case_of(now=now_at(seconds=step), meter_period=PERIOD, watts_at=NOW + report_at - PERIOD)
    return is_told_soon(case, turn)


@pytest.mark.parametrize(
    ("report_at", "soon"), [(60.0, True), (80.0, True), (80.1, False), (59.9, False), (0.0, False), (299.0, False)]
)
def test_a_start_is_told_soon_where_a_report_comes_within_two_ticks_of_a_minute(report_at, soon):
    """A minute is how long a meter needs to settle; the house ticks every ten seconds."""
    assert told(report_at) is soon


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
@pytest.mark.parametrize("step", [1.0, 10.0, 60.0, 97.0, 149.0])
def test_however_seldom_steps_come_one_of_them_may_start(step, turn):
    """A start that waits for its moment would else be put off for ever, and the room with it."""
    starts = [told(PERIOD - (phase + n * step) % PERIOD, step, turn) for phase in (0.0, 7.0) for n in range(600)]
    assert any(starts[:600])
    assert any(starts[600:])


def test_the_next_report_is_counted_from_the_last():
    """The first that is due no sooner than was asked; without one, a period later than that."""
    case = case_of(meter_period=PERIOD, watts_at=NOW - 40.0)
    assert report_in(case, 60.0) == pytest.approx(260.0)
    assert report_in(case, 260.0) == pytest.approx(260.0)
    assert report_in(case, 261.0) == pytest.approx(560.0)
    assert report_in(case_of(meter_period=PERIOD), 60.0) == pytest.approx(360.0)
