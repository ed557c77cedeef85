"""Intervals, weights and likely warmths of candidates, by hand and by Python's own normal distribution (derived)."""

from math import exp, inf, log, pi, sqrt

import pytest

from tests.core.body.bodies import ALL, MIDDLE, NORMAL, at, body_of, prior, under, usual
from thermostatd.core.body.brackets import (
    interval,
    likely,
    opened_at_most,
    opened_at_share,
    openings,
    unsure_share,
    weigh_intervals,
)
from thermostatd.core.body.state import Lesson
from thermostatd.core.body.store import CANDIDATES


@pytest.mark.parametrize(
    ("most", "opened", "expected"),
    [
        (110.0, [], (110.0, inf)),
        (0.5, [], (1.0, inf)),
        (110.0, [(90.0, 130.0)], (110.0, 130.0)),
        (80.0, [(90.0, 130.0), (95.0, 125.0)], (95.0, 125.0)),
        (80.0, [(95.0, 125.0), (90.0, 130.0)], (95.0, 125.0)),
        (0.0, [(0.0, 0.3)], (1.0, 1.0)),
    ],
)
def test_the_closest_bounds_that_any_run_has_shown_hold(most, opened, expected):
    """The most that was stood in any run and the least of any opening, neither under one."""
    assert interval(body_of(most, *opened), 3) == expected


def weights_by_hand(mass) -> list[float]:
    """Weights by each candidate's share of such bodies, of a sum of one."""
    raw = [prior(n) * mass(n) for n in ALL]
    return [one / sum(raw) for one in raw]


@pytest.mark.parametrize("most", [1.0, 70.0, 100.0, 140.0])
def test_what_was_stood_makes_candidates_likely_that_usually_stand_more(most):
    """Five in a hundred never open; of the others counts the share that opens above what was stood."""
    body = body_of(most)
    weigh_intervals(body)
    assert body.weights == pytest.approx(weights_by_hand(lambda n: 1.05 - under(n, most)), abs=6e-6)
    assert body.weights == [round(one, 5) for one in body.weights]


def test_an_opening_makes_candidates_likely_that_usually_open_within_its_bounds():
    """Between 90 and 120 what usually opens there counts, and those that never open no longer do."""
    body = body_of(90.0, (80.0, 120.0))
    weigh_intervals(body)
    assert body.weights == pytest.approx(
        weights_by_hand(lambda n: under(n, 120.0) - under(n, 90.0)), abs=6e-6
    )


def test_a_body_without_a_usual_warmth_counts_as_one_of_a_hundred():
    """What an earlier version did not remember is taken to be 100."""
    known, unknown = body_of(90.0), body_of(90.0, usual_opens=None)
    for body in (known, unknown):
        weigh_intervals(body)
    assert unknown.weights == known.weights
    assert unknown.opens == known.opens


def test_what_no_such_body_does_leaves_all_candidates_as_likely_as_before():
    """An opening at thirty times the usual warmth tells nothing between them: the weights still sum to one."""
    body = body_of(3000.0, (2900.0, 3001.0))
    weigh_intervals(body)
    assert body.weights == pytest.approx([prior(n) / sum(map(prior, ALL)) for n in ALL], abs=6e-6)


@pytest.mark.parametrize(("low", "high"), [(101.0, 100.0), (102.0, 100.0), (104.0, 100.0), (100.0, 100.0)])
def test_a_small_contradiction_counts_as_an_error_of_two_in_a_hundred(low, high):
    """A candidate that stood a little more than it opened at weighs what such an error leaves of it.

    Beside it one candidate opens between 100 and 103, and all others contradict themselves beyond any error.
    """
    body = body_of(
        [low if n == MIDDLE else 100.0 if n == 4 else 1000.0 for n in ALL],
        (0.0, [high if n == MIDDLE else 103.0 if n == 4 else 10.0 for n in ALL]),
    )
    weigh_intervals(body)
    place = log(sqrt(low * high) / 100.0) / 0.2
    doubt = log(low / high) / 0.02
    left = 0.1 / sqrt(2.0 * pi) * exp(-0.5 * place**2 - 0.5 * doubt**2)
    right = prior(4) * (under(4, 103.0) - under(4, 100.0))
    assert body.weights[MIDDLE] == pytest.approx(left / (left + right), abs=6e-6)
    assert body.weights[4] == pytest.approx(right / (left + right), abs=6e-6)


def test_candidates_that_all_contradict_themselves_are_as_likely_as_before():
    """Where nothing fits, what was likely beforehand is all there is."""
    body = body_of(1000.0, (0.0, 10.0))
    weigh_intervals(body)
    assert body.weights == pytest.approx([prior(n) / sum(map(prior, ALL)) for n in ALL], abs=6e-6)


def test_after_an_opening_a_run_may_come_to_what_was_stood_or_what_any_such_body_stands():
    """40 % of the usual warmth, though no more than it opened at; of a contradiction the middle."""
    body = body_of(
        [10.0, 60.0, 10.0, 120.0, 90.0] + [10.0] * 6, (0.0, [99.0, 99.0, 30.0, 100.0, 90.0] + [99.0] * 6)
    )
    weigh_intervals(body)
    expected = [0.4 * usual(0), 60.0, 30.0, sqrt(12000.0), 90.0] + [0.4 * usual(n) for n in range(5, 11)]
    assert body.opens == pytest.approx(expected, abs=6e-4)
    assert body.opens[0] == round(body.opens[0], 3)


def test_before_any_opening_a_run_may_come_to_what_most_such_bodies_stand():
    """70 % of the usual warmth, or what was stood, where that is more."""
    body = body_of([90.0] + [50.0] * 10)
    weigh_intervals(body)
    assert body.opens == pytest.approx(
        [max(90.0, 0.7 * usual(0))] + [0.7 * usual(n) for n in range(1, 11)], abs=6e-4
    )
    assert body.opens[1] == round(body.opens[1], 3)
    body = body_of(170.0)
    weigh_intervals(body)
    assert body.opens == [170.0] * CANDIDATES


def mean_place(n: int, low: float, high: float) -> float:
    """The mean place of such bodies' openings between two warmths, by quantiles one after the other."""
    a, b = under(n, low), under(n, high) if high < inf else 1.0
    return sum(NORMAL.inv_cdf(a + (b - a) * (k + 0.5) / 4000) for k in range(4000)) / 4000


@pytest.mark.parametrize(
    ("n", "low", "high"),
    [(5, 80.0, 130.0), (5, 95.0, 97.0), (5, 100.0, inf), (5, 1.0, inf), (2, 90.0, 150.0), (9, 70.0, 110.0)],
)
def test_it_opens_most_likely_at_the_mean_of_what_is_usual_between(n, low, high):
    """The mean of the logarithms of such bodies' openings between stood and opened."""
    body = body_of(low, *([(0.0, high)] if high < inf else []))
    assert likely(body, n) == pytest.approx(usual(n) * exp(0.2 * mean_place(n, low, high)), rel=2e-4)


@pytest.mark.parametrize(
    ("most", "opened", "expected"),
    [
        (120.0, [(0.0, 100.0)], sqrt(12000.0)),  # a contradiction: its middle
        (100.0, [(0.0, 100.0)], 100.0),
        (1000.0, [], 1000.0),  # none such is known: what it has stood
        (1000.0, [(0.0, 1210.0)], 1100.0),
        (2.0, [(0.0, 8.0)], 4.0),
    ],
)
def test_where_hardly_any_such_body_opens_the_middle_of_the_bounds_is_taken(most, opened, expected):
    """The geometric middle; without an upper bound what was stood."""
    assert likely(body_of(most, *opened), MIDDLE) == pytest.approx(expected)


def test_a_rare_opening_is_still_weighed_by_what_is_usual():
    """At 5.8 spreads, which one in a few hundred millions reaches, the usual still pulls towards the low bound."""
    low = 100.0 * exp(0.2 * 5.8)
    assert low < likely(body_of(low), MIDDLE) < low * 1.05
    assert likely(body_of(low), MIDDLE) != low


def test_openings_closely_seen_are_believed_and_others_are_what_is_likely():
    """What was learned of close openings stands; far apart, or before any, the likely warmths."""
    close = body_of(90.0, (91.0, 92.0), wide=False, opens=[91.5] * CANDIDATES)
    assert openings(close) == [91.5] * CANDIDATES
    far = body_of(90.0, (80.0, 120.0), opens=[90.0] * CANDIDATES)
    assert openings(far) == [likely(far, n) for n in ALL]
    none = body_of(90.0, wide=False, opens=[70.0] * CANDIDATES)
    assert openings(none) == [likely(none, n) for n in ALL]


@pytest.mark.parametrize(
    ("weights", "expected"),
    [
        (at(n5=1.0), 0.2),
        (at(n5=0.5, n6=0.5), 0.35),
        (at(n5=0.3, n6=0.1), 0.275),  # (0.3 · 0.2 + 0.1 · 0.5) / 0.4
        (at(n5=0.5, n8=0.5), 0.1),  # stood more than it opened at: nothing is unsure of that one
        (at(n5=1.0, n7=0.0039), 0.2),  # unlikely: not heard
        (at(n5=0.004, n6=0.004), 0.35),
    ],
)
def test_how_unsure_an_opening_is_is_how_far_apart_stood_and_opened_are(weights, expected):
    """As a share of what was stood, by the weights of candidates that are not quite unlikely."""
    after = [120.0] * CANDIDATES
    after[6], after[7], after[8] = 150.0, 10_000.0, 80.0
    assert unsure_share(body_of(100.0, (0.0, after), weights=weights)) == pytest.approx(expected)


FALL = Lesson(0.0, [0.0] * CANDIDATES, at(n5=60.0, n6=90.0, n7=0.5))


@pytest.mark.parametrize(
    ("weights", "most", "expected"),
    [
        (at(n5=1.0), 100.0, 0.6),
        (at(n5=1.0, n6=1.0), 100.0, sqrt(0.54)),
        (at(n5=0.1, n6=0.3), 100.0, 0.6**0.25 * 0.9**0.75),
        (at(n7=1.0), 100.0, 0.01),  # under one it counts as one
        (at(n5=1.0), 30.0, 2.0),
        (at(n5=1.0), 29.9, 1.0),  # nothing is known yet
        ([], 100.0, 1.0),
    ],
)
def test_the_share_at_which_it_opened_is_the_mean_of_all_candidates(weights, most, expected):
    """The geometric mean of the warmth at the report after, over what was stood; one where nothing is known."""
    assert opened_at_share(body_of(most, weights=weights), FALL) == pytest.approx(expected)


def test_one_candidate_that_has_stood_enough_makes_an_opening_a_matter_of_what_was_stood():
    """The most that any has stood decides whether something is known."""
    assert opened_at_share(body_of([30.0] + [10.0] * 10), FALL) == pytest.approx(6.0)
    assert opened_at_most(body_of([30.0] + [10.0] * 10), FALL) == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("weights", "most", "expected"),
    [
        (at(n5=1.0), 100.0, 0.6),
        (at(n5=1.0, n6=0.15), 100.0, 0.9),
        (at(n5=1.0, n6=0.149), 100.0, 0.6),
        (at(n5=0.2, n6=0.031), 100.0, 0.9),  # beside the likeliest
        (at(n5=1.0), 30.0, 2.0),
        (at(n5=1.0), 29.9, 0.0),
        ([], 100.0, 0.9),
    ],
)
def test_the_most_that_an_opening_can_have_come_at_is_said_by_one_likely_candidate(weights, most, expected):
    """A sixth or so as likely as the likeliest is likely; without weights what is so beforehand."""
    assert opened_at_most(body_of(most, weights=weights), FALL) == pytest.approx(expected)


def test_before_anything_was_weighed_small_stores_are_unlikely():
    """0.15 of the likeliest at a spread of 30 %: two candidates to each side of the middle, and not the third."""
    assert [prior(n) >= 0.15 for n in ALL] == [n in (2, 3, 4, 5, 6, 7, 8) for n in ALL]
    for n in ALL:
        fall = Lesson(0.0, [0.0] * CANDIDATES, [80.0 if n == one else 40.0 for one in ALL])
        assert opened_at_most(body_of(100.0, weights=[]), fall) == pytest.approx(
            0.8 if prior(n) >= 0.15 else 0.4
        )


def test_nothing_stood_yet_says_nothing_of_an_opening():
    """A body that was never followed has no most."""
    assert opened_at_most(body_of([]), FALL) == 0.0
