"""At night: whole winters under pacing, with a quick meter and with a slow one."""

import pytest

from tests.bench.pacing import measure, winter


@pytest.mark.night
@pytest.mark.timeout(0)
@pytest.mark.parametrize("period", [10.0, 300.0])
@pytest.mark.parametrize(
    ("capacity", "output", "loss", "seed"), [(1.0, 1.0, 30.0, 1), (0.7, 1.3, 40.0, 2), (1.3, 0.7, 18.0, 3)]
)
def test_two_openings_in_a_winter(capacity, output, loss, seed, period):
    """In 120 days of cold its cut-out opens twice at most, while it is learned."""
    assert winter(120.0, capacity, output, loss, seed, period).trips <= 2


@pytest.mark.night
@pytest.mark.timeout(0)
@pytest.mark.parametrize(("capacity", "output"), [(0.7, 0.7), (0.7, 1.3), (1.0, 1.0), (1.3, 0.7), (1.3, 1.3)])
@pytest.mark.parametrize("period", [10.0, 300.0])
def test_nine_tenths_of_the_best(capacity, output, period):
    """Once learned it carries 90 % of the most that the minimum times allow, and opens no more."""
    line = measure(capacity, output, 1, hours=6.0, period=period)
    assert line.learning <= 2
    assert line.later == 0
    assert line.delivered >= 0.9
