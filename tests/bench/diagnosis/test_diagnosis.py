"""The bench itself: its record, its arithmetic; and, at night, its matrices against the goal."""

from itertools import pairwise

import pytest

from tests.bench.diagnosis.__main__ import matrix, merged, short, summary
from tests.bench.diagnosis.house import METERS
from tests.bench.diagnosis.mains import NOMINAL_VOLTS, recorded_volts
from tests.bench.diagnosis.trial import Tally, faulted, sound


def test_the_record_is_a_real_mains():
    """One-minute volts of a household (UCI, CC BY 4.0): within ±10 % (EN 50160), and never still for an hour."""
    volts = recorded_volts(7, seed=0)
    assert len(volts) > 6 * 1440
    assert all(abs(one / NOMINAL_VOLTS - 1.0) < 0.10 for one in volts)
    assert max(volts) - min(volts) > 8.0
    assert sum(one != other for one, other in pairwise(volts)) > 0.9 * len(volts)


def test_recall_is_right_names_over_faults_ordered():
    """Either of two names that the meter cannot tell apart is right for both; any other is a miss."""
    tally = Tally()
    tally.named.update({("element", "either"): 3, ("element", "element"): 1, ("element", "covered"): 1})
    tally.named.update({("dial", "dial"): 20, ("dial", "none"): 1})
    assert tally.recall("element") == pytest.approx(0.8)
    assert tally.recall("dial") == pytest.approx(20 / 21)
    assert tally.recall("welded") is None
    assert short(METERS[0], merged([tally])) == ["element"]
    assert "80 %" in matrix(tally)


def test_the_table_of_all_meters_counts_false_alarms_by_the_winter():
    """Two false names in 60 heater-days are four in a heater's winter of 120 days; right stands over ordered."""
    tally = Tally(heater_days=60.0)
    tally.named.update({("dial", "dial"): 3, ("dial", "covered"): 1})
    tally.false.update({"covered": 2})
    table = summary({0: (tally, 0.5)})
    assert "3/4" in table
    assert "4.0" in table
    assert "0.50" in table


def test_two_days_of_the_loop_name_what_was_ordered():
    """A slice of the matrix: on a slow meter, three faults of a fixed seed, each by its name and by no other."""
    kinds = ("selector", "nothing", "welded")
    only = dict(zip(("tall/h", "low/h", "mid/h"), ((kind,) for kind in kinds), strict=True))
    tally = faulted(METERS[5], 1, 2, only)
    assert {kind for kind, _ in tally.named} == set(kinds), tally.log
    assert all(tally.recall(kind) == 1.0 for kind in kinds), tally.log
    assert not tally.false, tally.log


@pytest.mark.night
@pytest.mark.timeout(0)
@pytest.mark.parametrize("meter", METERS, ids=lambda meter: meter.name)
def test_every_fault_is_called_by_its_name(meter):
    """Recall of 95 % for each fault that this meter can show."""
    assert short(meter, merged([faulted(meter, seed, 45) for seed in range(2)])) == []


@pytest.mark.night
@pytest.mark.timeout(0)
@pytest.mark.parametrize("meter", METERS, ids=lambda meter: meter.name)
def test_a_sound_house_brings_no_alarm(meter):
    """A month without a fault, on real volts, is a month without a trouble but openings of a cut-out."""
    assert not sound(meter, 3, 30)
