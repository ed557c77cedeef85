"""What a run from now would come to, candidate by candidate; `store` is held elsewhere."""

from __future__ import annotations

import pytest

from tests.core.body.bodies import ALL, MIDDLE, STORE, at, each, reached
from thermostatd.core.body.outlook import ahead, from_cold
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, later

WATTS, SECONDS = 900.0, 330.0
OPENS = [100.0 + n for n in ALL]


def body_of(weights: list[float], *, lessons: int = 2, wide: bool = False, **changed) -> BodyMemory:
    """A body of so many openings, warm."""
    return BodyMemory(
        store_joules=STORE,
        weights=weights,
        opens=OPENS,
        warmth=[20.0 + n for n in ALL],
        lessons=[Lesson(0.0, each(99.0), each(101.0))] * lessons,
        wide=wide,
        **changed,
    )


def share(n: int, warmth: float | None = None, watts: float = WATTS) -> float:
    """What one candidate says, in steps of a minute."""
    return reached(n, watts, SECONDS, 20.0 + n if warmth is None else warmth) / OPENS[n]


def mean(weights: list[float]) -> float:
    """What all say, by weight."""
    return pytest.approx(sum(w * share(n) for n, w in enumerate(weights) if w) / sum(weights))


def test_two_openings_closely_known_speak_in_the_mean():
    """However likely one is that says more."""
    weights = at(n3=0.5, n5=0.3, n7=0.2)
    assert ahead(body_of(weights), WATTS, SECONDS) == mean(weights)


def test_the_smallest_store_is_one_of_them():
    """It is not heard alone either."""
    weights = at(n0=0.5, n9=0.5)
    assert share(0) > share(9)
    assert ahead(body_of(weights), WATTS, SECONDS) == mean(weights)


def test_weights_need_not_sum_to_one():
    """They are rounded."""
    weights = at(n3=0.6, n5=0.6)
    assert ahead(body_of(weights), WATTS, SECONDS) == mean(weights)


def test_of_one_opening_the_likely_candidate_speaks_that_says_most():
    """From 15 % of the likeliest one's weight, at the edge."""
    assert share(1) > share(3) > share(5)
    for weight, who in ((0.15, 1), (0.149, 3)):
        weights = at(n1=weight, n3=0.5, n5=1.0)
        assert ahead(body_of(weights, lessons=1), WATTS, SECONDS) == pytest.approx(share(who))


def test_unlikely_ones_are_no_part_of_the_mean_where_the_likely_ones_speak():
    """Nobody is heard alone then but the one there is."""
    assert ahead(body_of(at(n0=0.1, n5=1.0), lessons=1), WATTS, SECONDS) == pytest.approx(share(5))
    assert ahead(body_of(at(n0=0.1, n5=1.0)), WATTS, SECONDS) == mean(at(n0=0.1, n5=1.0))


def test_a_weight_under_four_parts_in_a_thousand_is_none():
    """At the edge."""
    for weight, counts in ((0.004, True), (0.0039, False)):
        weights = at(n0=weight, n8=1.0)
        found = ahead(body_of(weights), WATTS, SECONDS)
        assert found == (mean(weights) if counts else pytest.approx(share(8)))


def test_of_openings_far_apart_a_likely_smaller_store_is_heard():
    """Smaller than the mean's; a larger one is part of the mean alone."""
    weights = at(n3=0.4, n7=0.6)  # the mean is 5.4
    assert ahead(body_of(weights, wide=True), WATTS, SECONDS) == pytest.approx(share(3))
    weights = at(n5=1.0)
    weights[MIDDLE - 1] = 0.149
    assert ahead(body_of(weights, wide=True), WATTS, SECONDS) == mean(weights)
    weights = at(n5=0.6, n6=0.4)  # the mean is 5.4: no whole candidate smaller than the fifth
    assert ahead(body_of(weights, wide=True), WATTS, SECONDS) == mean(weights)
    weights = at(n4=2.0, n6=3.0)  # the mean is 5.2
    assert ahead(body_of(weights, wide=True), WATTS, SECONDS) == pytest.approx(share(4))
    weights = at(n4=1.0, n6=1.0)  # the mean is 5.0
    opens = list(OPENS)
    opens[6] = 10.0
    body = body_of(weights, wide=True)
    body.opens = opens
    assert ahead(body, WATTS, SECONDS) == pytest.approx(
        0.5 * share(4) + 0.5 * reached(6, WATTS, SECONDS, 26.0) / 10.0
    )


def test_far_apart_the_unlikely_are_part_of_the_mean():
    """Down to four parts in a thousand."""
    weights = at(n5=1.0, n9=0.1)  # the mean is 5.36
    body = body_of(weights, wide=True)
    body.opens = [*OPENS[:9], 5.0, OPENS[10]]
    found = (share(5) + 0.1 * reached(9, WATTS, SECONDS, 29.0) / 5.0) / 1.1
    assert found > share(5)
    assert ahead(body, WATTS, SECONDS) == pytest.approx(found)


@pytest.mark.parametrize(("watts", "taken"), [(900.9, 900.0), (901.1, 902.0), (900.0, 900.0)])
def test_from_cold_is_a_cold_bodys_run_at_even_watts(watts, taken):
    """In steps of two, so that it is seldom reckoned anew."""
    for lessons, wide in ((1, False), (2, False), (2, True)):
        body = body_of(at(n3=0.4, n7=0.6), lessons=lessons, wide=wide)
        cold = body_of(at(n3=0.4, n7=0.6), lessons=lessons, wide=wide)
        cold.warmth = each(0.0)
        assert from_cold(body, watts, SECONDS) == ahead(cold, taken, SECONDS)


def test_a_body_without_a_store_yet_does_not_fail():
    """It is taken as one joule."""
    body = body_of(at(n5=1.0))
    body.store_joules = None
    watts = 2.0
    expected = later(25.0, watts, 0.5, 1.0, 60.0) / OPENS[5]
    assert ahead(body, watts, 0.5) == pytest.approx(expected)
    assert from_cold(body, watts, 0.5) == pytest.approx(later(0.0, watts, 0.5, 1.0, 60.0) / OPENS[5])
    assert len(body.weights) == CANDIDATES
