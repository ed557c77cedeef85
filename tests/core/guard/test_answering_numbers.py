"""What ordinary switchings tell, number by number: the filters in closed form (derived), and each bound at its edge."""

from __future__ import annotations

from math import exp, inf, sqrt

import pytest

from thermostatd.core.guard.no_answer import answering

MINUTE = 60.0
SLOW, BODY = (
    exp(-MINUTE / 1800.0),
    exp(-MINUTE / 1200.0),
)  # what a minute leaves of half an hour, of twenty minutes
HOUR_SHARE = MINUTE / 3600.0


def fed(count: int, *, air=20.0, first=20.0, heats=True, first_heats=True, notes=None) -> dict:
    """The notes after a first minute and `count` more."""
    notes = {} if notes is None else notes
    answering.watch(notes, first, first_heats, 0.0, MINUTE)
    for minute in range(1, count + 1):
        answering.watch(notes, air, heats, MINUTE * minute, MINUTE)
    return notes["cycles"]


def begun(**changed) -> dict:
    """Notes of a heater watched since long, its last sample five minutes ago at 10 000 s."""
    kept = {
        "begun": 0.0, "at": 9_700.0, "heats": True, "changed": 9_000.0,
        "heat": [1.0, 0.0, 0.0], "air": [20.0, 0.0], "sums": [40.0, 10.0, 20.0, 41.0],
    }  # fmt: skip
    return {"cycles": kept | changed}


def test_it_begins_with_the_air_and_the_heater_as_they_are():
    """One minute of heat is in the sum, and nothing was switched yet."""
    kept = fed(0, first=20.12345)
    assert kept["begun"] == kept["at"] == 0.0
    assert kept["heats"] is True
    assert "changed" not in kept
    assert kept["heat"] == pytest.approx([1.0, HOUR_SHARE, (1.0 - SLOW) * HOUR_SHARE], abs=1e-6)
    assert kept["air"] == pytest.approx([20.123, 0.0], abs=2e-5)
    assert kept["sums"] == [0.0] * 4
    assert fed(0, first_heats=False)["heat"] == [0.0, 0.0, 0.0]


@pytest.mark.parametrize("count", [1, 30, 90])
def test_steady_heat_is_taken_out_twice_over(count):
    """A sum that forgets over half an hour and one that lags it by as much (derived: two equal poles)."""
    full, n = HOUR_SHARE / (1.0 - SLOW), count + 1
    warm, given, slow = fed(count)["heat"]
    assert warm == 1.0
    assert given == pytest.approx(full * (1.0 - SLOW**n), abs=2e-5)
    assert slow == pytest.approx(full * (1.0 - SLOW**n - n * (1.0 - SLOW) * SLOW**n), abs=2e-5)


@pytest.mark.parametrize("count", [1, 20, 60])
def test_heat_comes_late_and_goes_late(count):
    """By twenty minutes, on and off."""
    assert fed(count, first_heats=False)["heat"][0] == pytest.approx(1.0 - BODY**count, abs=2e-5)
    assert fed(count, heats=False)["heat"][0] == pytest.approx(BODY**count, abs=2e-5)


@pytest.mark.parametrize("count", [1, 30, 90])
def test_a_step_of_the_air_is_forgotten_twice_over(count):
    """The slow part nears it over half an hour; what is left is taken out as slowly (derived: two equal poles)."""
    slow, slower = fed(count, air=21.0)["air"]
    assert slow == pytest.approx(21.0 - SLOW**count, abs=2e-4)
    assert slower == pytest.approx(count * (1.0 - SLOW) * SLOW**count, abs=2e-4)


def test_what_the_filters_keep_is_short():
    """Millionths of an hour, and a hundredth of a thousandth of a kelvin."""
    kept = fed(7, air=20.7, first=19.3)
    assert kept["heat"] == [round(one, 6) for one in kept["heat"]]
    assert kept["air"] == [round(one, 5) for one in kept["air"]]


def test_settling_is_counted_from_where_it_began():
    """On whatever second that was."""
    for begun_at, counts in ((2_800.0, True), (2_801.0, False)):
        notes = begun(begun=begun_at)
        answering.watch(notes, 20.0, True, 10_000.0, MINUTE)
        assert (notes["cycles"]["sums"][0] != 40.0) is counts


def test_a_switching_is_timed_when_it_is_seen():
    """And only a switching."""
    notes = begun()
    answering.watch(notes, 20.0, True, 10_000.0, MINUTE)
    assert notes["cycles"]["changed"] == 9_000.0
    answering.watch(notes, 20.0, False, 10_060.0, MINUTE)
    assert (notes["cycles"]["changed"], notes["cycles"]["heats"]) == (10_060.0, False)


def test_a_gap_begins_anew_but_for_what_was_gathered():
    """Past a quarter of an hour; the sums, what it gave and the doubt stay."""
    for seconds, since in ((900.0, 0.0), (900.1, 10_000.0)):
        notes = begun(gain=[2.0, 0.5], doubt=3.0, at=9_990.0)
        answering.watch(notes, 20.0, True, 10_000.0, seconds)
        kept = notes["cycles"]
        assert kept["begun"] == since
        assert (kept["gain"], kept["doubt"], kept["sums"]) == ([2.0, 0.5], 3.0, [40.0, 10.0, 20.0, 41.0])
        assert ("changed" in kept) is (since == 0.0)


def test_sums_of_another_form_are_begun_anew():
    """As of an older memory, which had no filters either."""
    for sums in ([1.0, 2.0, 3.0], None):
        notes = {"cycles": {"sums": sums, "doubt": 2.0}}
        answering.watch(notes, 20.0, True, 5.0, MINUTE)
        assert (notes["cycles"]["sums"], notes["cycles"]["doubt"]) == ([0.0] * 4, 2.0)
    notes = {"cycles": {"sums": [1.0, 2.0, 3.0, 4.0]}}
    answering.watch(notes, 20.0, True, 5.0, MINUTE)
    assert notes["cycles"]["sums"] == [1.0, 2.0, 3.0, 4.0]


def test_nothing_counts_until_the_filters_have_settled():
    """Samples each five minutes, from two hours on."""
    assert fed(119)["sums"] == [0.0] * 4
    assert fed(120)["sums"][0] == 1.0
    assert fed(124)["sums"][0] == 1.0
    assert fed(125)["sums"][0] == pytest.approx(1.0 + exp(-300.0 / 43_200.0), abs=1e-6)


def test_a_sample_is_taken_five_minutes_after_the_last():
    """Not sooner, and from then on they are counted."""
    for at, sampled in ((9_700.5, False), (9_700.0, True)):
        notes = begun(at=at)
        answering.watch(notes, 20.0, True, 10_000.0, MINUTE)
        assert notes["cycles"]["at"] == (10_000.0 if sampled else at)
        assert (notes["cycles"]["sums"][0] == 40.0) is not sampled


def test_a_sample_adds_squares_and_forgets_over_half_a_day():
    """What is left of heat and air, after their slow parts; the sums before it shrink by its gap."""
    notes = begun(at=9_400.0, heat=[0.5, 0.3, 0.1], air=[20.0, 0.2])
    answering.watch(notes, 20.6, True, 10_000.0, MINUTE)
    lost, keep = 1.0 - SLOW, exp(-600.0 / 43_200.0)
    warm = 0.5 + (1.0 - BODY) * 0.5
    given = 0.3 + warm * HOUR_SHARE - lost * 0.3
    heat = given - (0.1 + lost * (given - 0.1))
    slow = 20.0 + lost * 0.6
    air = 20.6 - slow - (0.2 + lost * (20.6 - slow - 0.2))
    sums = [keep * 40.0 + 1.0, keep * 10.0 + heat**2, keep * 20.0 + heat * air, keep * 41.0 + air**2]
    assert notes["cycles"]["sums"] == pytest.approx(sums, abs=1e-6)
    assert notes["cycles"]["sums"] == [round(one, 6) for one in notes["cycles"]["sums"]]
    assert notes["cycles"]["air"] == [round(one, 5) for one in notes["cycles"]["air"]]


def test_the_slope_is_the_regression_through_the_origin():
    """With its standard error, from thirty samples that varied enough (derived: least squares)."""
    assert answering.slope_of([40.0, 10.0, 20.0, 44.0]) == (2.0, sqrt(4.0 / 400.0))
    assert answering.slope_of([40.0, 10.0, 20.0, 40.0])[1] == pytest.approx(sqrt(1e-6 / 400.0))
    assert answering.slope_of([30.0, 10.0, 20.0, 41.0])[0] == 2.0
    assert answering.slope_of([29.9, 10.0, 20.0, 41.0]) == (0.0, inf)
    least = 0.008**2 * 40.0
    assert answering.slope_of([40.0, least, 2.0 * least, 41.0])[0] == pytest.approx(2.0)
    assert answering.slope_of([40.0, 0.999 * least, 2.0 * least, 41.0]) == (0.0, inf)


def test_an_answer_is_the_bound_and_four_errors_at_least():
    """At the very edge of either."""
    four = [40.0, 10.0, 20.0, 40.0 + 400.0 * 0.25]  # 2 K/h ± 0.5
    assert answering.answers(begun(sums=four), 2.0, 10_000.0)
    assert not answering.answers(begun(sums=four), 2.001, 10_000.0)
    four[3] += 0.1
    assert not answering.answers(begun(sums=four), 2.0, 10_000.0)


def test_only_a_switching_of_the_last_hour_counts():
    """To the second; without one there is no answer, nor where nothing was watched."""
    assert answering.answers(begun(), 0.45, 12_600.0)
    assert not answering.answers(begun(), 0.45, 12_600.5)
    never = begun()
    del never["cycles"]["changed"]
    assert not answering.answers(never, 0.45, 9_000.0)
    assert answering.answers({}, 0.45, 9_000.0) is False


def test_what_is_doubted_does_not_answer_and_what_is_in_question_sets_no_measure():
    """What was answered becomes the measure of what comes, while little speaks against it."""
    for doubt, answered, measured in ((None, True, True), (0.999, True, True), (1.0, True, False),
                                      (6.99, True, False), (7.0, False, False)):  # fmt: skip
        notes = begun(**({} if doubt is None else {"doubt": doubt}), sums=[40.0, 10.0, 20.0, 41.0])
        assert answering.answers(notes, 0.45, 10_000.0) is answered
        assert notes["cycles"].get("gain") == ([2.0, 0.025] if measured else None)
        assert answering.doubts(notes) is (doubt == 7.0)
    notes = begun(sums=[40.0, 10.0, 0.1, 41.0])
    assert not answering.answers(notes, 0.45, 10_000.0)
    assert "gain" not in notes["cycles"]


def sampled(air: float, **changed) -> float | None:
    """The doubt after one sample of heat left over 0.5 h and air left over `air` K (before the filters' step)."""
    notes = begun(**changed)
    kept = notes["cycles"]
    answering._hold_against(kept, 0.5, air)
    return kept.get("doubt")


def test_the_measure_is_short():
    """A thousandth of a kelvin an hour, and a millionth of the variance."""
    notes = begun(sums=[41.0, 7.0, 15.1, 40.0])
    assert answering.answers(notes, 0.45, 10_000.0)
    rise, error = answering.slope_of([41.0, 7.0, 15.1, 40.0])
    assert notes["cycles"]["gain"] == [round(rise, 3), round(error * error * 7.0, 6)]
    assert notes["cycles"]["gain"] == [2.157, 0.18115]


def test_each_sample_moves_the_odds_by_what_it_says():
    """The logarithm of two normal densities, an eighth of it (derived); never under even, never past eleven."""
    assert sampled(0.0) is None
    # it gave 2 K/h, so 1 K is foretold; ± 0.5 K: ln of the odds is 1 · (2·air − 1) / (2 · 0.25) / 8
    for air, before, after in (
        (0.0, 3.0, 3.25), (0.4, 3.0, 3.05), (0.6, 3.0, 2.95), (1.0, 3.0, 2.75),
        (-2.0, 3.0, 3.5),  # no sample says more against it than that
        (1.0, 0.1, 0.0), (0.0, 10.9, 11.0), (0.4, 10.9, 10.95),
    ):  # fmt: skip
        assert sampled(air, gain=[2.0, 0.25], doubt=before) == pytest.approx(after)
    assert sampled(0.0, gain=[2.0, 0.25]) == 0.25
    assert sampled(0.0, gain=[2.0, 0.3]) == 0.208  # a thousandth is enough


def test_a_sample_is_held_against_what_was_answered_before_it_counts():
    """With the same leftovers as it adds to the sums."""
    notes = begun(heat=[1.0, 1.0, 0.5], air=[20.0, 0.0], gain=[2.0, 0.25], doubt=3.0)
    answering.watch(notes, 20.0, True, 10_000.0, MINUTE)
    given = SLOW * 1.0 + HOUR_SHARE
    heat = SLOW * (given - 0.5)
    assert notes["cycles"]["doubt"] == pytest.approx(3.0 + (2.0 * heat) ** 2 / (2.0 * 0.25) / 8.0, abs=6e-4)


def test_a_rest_that_was_answered_takes_the_doubt_away_and_a_carried_heater_all():
    """The rest of what was gathered stays, or goes."""
    notes = begun(doubt=5.0) | {"answered_at": 3.0, "other": 1}
    answering.believe(notes)
    assert "doubt" not in notes["cycles"]
    assert notes["cycles"]["sums"] == [40.0, 10.0, 20.0, 41.0]
    answering.believe(notes)
    answering.forget(notes)
    assert notes == {"other": 1}
    answering.forget(notes)
    answering.believe(notes)
    assert notes == {"other": 1}
    assert not answering.doubts(notes)
