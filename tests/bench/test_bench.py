"""The goals of the bench, kept: each row is measured once, on real processes."""

from __future__ import annotations

import pytest

from tests.bench import idle, page, record, soon, steps, weight
from tests.bench.row import Row, table

pytestmark = [pytest.mark.night, pytest.mark.timeout(300)]
MOST_MEMORY_REACHED = 1.35
"""The goal of 1.25 is not reached yet; it must not get worse than this."""


def told(rows: list[Row]) -> dict[str, Row]:
    """The rows by name, printed as the bench prints them."""
    print("\n" + table(rows))
    return {row.what: row for row in rows}


def test_a_room_costs_a_tick_the_same_in_a_house_of_any_size():
    """The time of a room in a step at 100 and 1 000 rooms is within 1.5 of that at 10."""
    rows = told(steps.measure())
    assert len(rows) == 2
    assert all(row.met for row in rows.values())


def test_twenty_rooms_stay_near_a_bare_process(tmp_path):
    """Resident memory with twenty rooms stays within what was reached, over a bare page and broker process."""
    rows = told(weight.measure(tmp_path))
    assert 1.0 < rows["memory, 20 rooms / bare process (resident)"].measured <= MOST_MEMORY_REACHED


def test_a_first_visit_is_small(tmp_path):
    """HTML, style, script and icon of the demo's page are under 25 kB as sent."""
    assert all(row.met for row in told(page.measure(tmp_path)).values())


def test_requests_act_within_one_tick_and_readings_within_two(tmp_path):
    """The slowest request and the slowest reading reach a real plug in one and two ticks."""
    rows = told(soon.measure(tmp_path))
    assert len(rows) == 2
    assert all(row.met for row in rows.values())


def test_a_room_year_is_a_few_megabytes(tmp_path):
    """A room's year of minutes and quarter hours takes more than nothing and under 20 MB."""
    assert all(0.1 < row.measured < 20 for row in told(record.measure(tmp_path)).values())


@pytest.mark.timeout(600)
def test_twenty_rooms_spare_processor_and_disk(tmp_path):
    """While nobody asks, twenty rooms write little to an SD card; what they take of a core is told."""
    rows = told(idle.measure(tmp_path))
    assert len(rows) == 2
    assert all(row.met and row.measured > 0 for row in rows.values())
