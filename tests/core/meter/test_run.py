"""One run of a heater, report by report: what is an opening, and what is not."""

import pytest

from thermostatd.core.meter import run
from thermostatd.core.meter.power import Power, near
from thermostatd.core.meter.warmth import later, tau_seconds

TAU = tau_seconds("oil-filled")


def power(watts, at, *, exact=True, proves=True, slow=False):
    """One report."""
    return Power(watts, at, exact, proves, watts <= 15.0, slow)


def heard(*reports, notes=None, known=()):
    """What so many reports of one run, begun at 0 s, have shown besides that the level held."""
    notes = {} if notes is None else notes
    run.begin(notes, 0.0, TAU)
    found = [one for report in reports for one in run.hear(notes, report, known, TAU)]
    return [one for one in found if one.what != "held"], notes


def test_a_level_is_left_when_two_reports_agree():
    """One odd report, as of a lagging meter in mid-change, is no new level; two that agree are."""
    found, _ = heard(power(1400, 70), power(1100, 80), power(1400, 90))
    assert [one.what for one in found] == ["started"]
    found, notes = heard(power(1400, 70), power(1400, 80), power(1000, 90), power(600, 100), power(598, 110))
    assert [one.what for one in found] == ["started", "fell"]
    assert notes["level"] == pytest.approx(598)


def test_an_opening_lies_between_two_reports():
    """The change came after the last report on the old level and no later than the first under it."""
    found, _ = heard(*(power(1400, at) for at in range(70, 600, 10)), power(600, 600), power(600, 610))
    fell = found[-1]
    assert (fell.lo_at, fell.hi_at) == (590, 600)
    assert fell.lo_warmth <= later(0.0, 1400, 595, TAU) <= fell.hi_warmth


def test_a_slow_meter_needs_one_report_of_a_level_that_is_known():
    """Every five minutes: a known setting or nothing at all is believed at once, anything else is not."""
    high = [power(1400, at, slow=True) for at in (310, 610)]
    assert [one.what for one in heard(*high, power(590, 910, slow=True), known=(600.0,))[0]] == [
        "started",
        "fell",
    ]
    assert [one.what for one in heard(*high, power(0, 910, slow=True))[0]] == ["started", "gone"]
    assert [one.what for one in heard(*high, power(950, 910, slow=True), known=(600.0,))[0]] == ["started"]


def test_an_early_report_proves_power_that_flows_and_never_power_that_does_not():
    """A report within the first period shows at least so much; a low one says nothing."""
    found, _ = heard(power(1400, 100, proves=False, slow=True), power(600, 400, slow=True), known=(600.0,))
    assert [(one.what, one.before) for one in found] == [("started", 1400), ("fell", 1400)]
    found, notes = heard(power(0, 100, proves=False, slow=True))
    assert found == []
    assert notes.get("level") is None


def test_mains_that_drifts_is_no_step_where_volts_are_not_told():
    """Power that moves by a few per cent from report to report, ten in all, stays one level."""
    drifting = [power(1400 * (1 + 0.01 * min(n, 10)), 70 + 10 * n, exact=False) for n in range(30)]
    assert [one.what for one in heard(*drifting)[0]] == ["started"]


@pytest.mark.parametrize(
    ("reports", "sank"),
    [
        (((1400, 70), (900, 80)), 900.0),
        (((1400, 70), (1400, 80)), None),
        (((1400, 70), (900, 80), (1400, 90)), None),
        (((1400, 70), (900, 80), (600, 90), (600, 100)), None),
        (((1400, 70), (40, 80)), None),
        (((1400, 70), (1900, 80)), None),
    ],
)
def test_a_single_report_of_less_before_it_goes_off_is_kept(reports, sank):
    """Where a second one agrees it is a fall, where power is back it is none; nothing at all, or more, is another
    matter. The next run's end forgets it."""
    _, notes = heard(*(power(*one) for one in reports))
    run.end(notes, 110.0, TAU)
    assert notes.get("sank") == sank
    heard(power(1400, 170), notes=notes)
    run.end(notes, 200.0, TAU)
    assert "sank" not in notes


def test_a_resting_body_cools():
    """What the body holds falls with the rest, and a clock that began anew leaves it as it was, warm."""
    _, notes = heard(*(power(1400, at) for at in range(70, 800, 10)))
    run.end(notes, 800.0, TAU)
    warm = notes["warmth"]
    run.begin(notes, 800.0 + TAU, TAU)
    assert notes["cold"] == pytest.approx(warm / 2.71828, rel=0.01)
    run.end(notes, 5.0, TAU)
    run.begin(notes, 10.0, TAU)
    assert notes["cold"] > 0


@pytest.mark.parametrize(
    ("one", "other", "exact", "same"),
    [
        (600, 588, True, True),
        (600, 800, False, False),
        (800, 912, True, False),
        (1400, 1270, False, True),
        (20, 30, True, True),
    ],
)
def test_levels_are_as_wide_as_the_meter_is_unsure(one, other, exact, same):
    """7 % with volts, 13 % without, and never under 12 W: a meter may show steps of 10 W."""
    assert near(one, other, exact) is same
