"""What openings teach, number by number (derived: least squares, a parabola through three points, normal weights)."""

from __future__ import annotations

from math import exp, inf, log, sqrt

import pytest

from tests.core.body.bodies import ALL, MIDDLE, STORE, each
from thermostatd.core.body import lessons as module
from thermostatd.core.body.lessons import (
    forget_since,
    fraction,
    fraction_at_worst,
    spread_share,
    take,
    tell,
    trust_owner,
    weigh,
)
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, SHARES, stores, tau_seconds, warmth_of, watts_of
from thermostatd.core.facts import HeaterFacts


def lesson(before=100.0, after=101.0, wall=0.0) -> Lesson:
    """One opening; a number for all candidates, or one for each."""
    return Lesson(
        wall, *(list(one) if isinstance(one, list | tuple) else each(one) for one in (before, after))
    )


def taught(*openings: Lesson, **changed) -> BodyMemory:
    """A body that so many openings were taken in of."""
    body = BodyMemory(**{"store_joules": STORE, "usual_opens": 100.0, "most": each(0.0)} | changed)
    for one in openings:
        take(body, one)
    return body


def normal(weights: list[float]) -> list[float]:
    """With a sum of one."""
    return pytest.approx([one / sum(weights) for one in weights], abs=1e-5)


def usual() -> list[float]:
    """How likely each store is before anything is known: 35 % of logarithms."""
    return [exp(-0.5 * (log(share) / 0.35) ** 2) for share in SHARES]


# Taking one in.


def test_the_last_three_openings_teach():
    """What is older is forgotten."""
    body = taught(*(lesson(wall=float(n)) for n in range(5)))
    assert [one.at_wall for one in body.lessons] == [2.0, 3.0, 4.0]


def test_what_opened_it_was_not_stood():
    """Each candidate's most falls to what was shown before the opening; where openings lie far apart it does not."""
    body = taught(lesson(before=[100.0 + n for n in ALL]), most=[104.0 for _ in ALL])
    assert body.most == [min(104.0, 100.0 + n) for n in ALL]
    take(body, lesson(before=50.0, after=102.0), wide=True)
    assert body.most == [min(104.0, 100.0 + n) for n in ALL]
    assert body.wide
    take(body, lesson(before=90.0, after=102.0))
    assert not body.wide
    assert body.most == each(90.0)


def test_two_early_openings_are_set_aside_and_three_are_how_it_is():
    """Then they are all that is known; one as usual between them clears the suspicion."""
    body = taught(lesson(wall=1.0), lesson(wall=2.0), most=each(95.0))
    for wall in (3.0, 4.0):
        take(body, lesson(60.0, 61.0, wall))
    assert [one.at_wall for one in body.odd] == [3.0, 4.0]
    assert [one.at_wall for one in body.lessons] == [1.0, 2.0]
    take(body, lesson(60.0, 61.0, 5.0))
    assert (body.odd, [one.at_wall for one in body.lessons]) == ([], [3.0, 4.0, 5.0])
    assert body.most == each(0.0)
    take(body, lesson(40.0, 41.0, 6.0))
    take(body, lesson(60.0, 61.0, 7.0))
    assert body.odd == []


def test_early_is_under_85_percent_and_only_after_two_openings():
    """By the report that showed it open."""
    for after, odd in ((0.86, 0), (0.84, 1)):
        body = taught(lesson(), lesson())
        take(body, lesson(50.0, after * body.opens[MIDDLE], 9.0))
        assert len(body.odd) == odd
    body = taught(lesson())
    take(body, lesson(50.0, 51.0))
    assert body.odd == []
    assert len(body.lessons) == 2


@pytest.mark.parametrize(("share", "left"), [(1.34, [1.0, 2.0, 9.0]), (1.36, [9.0])])
def test_one_far_above_shows_that_those_before_were_none_of_a_free_body(share, left):
    """Or that it was warmer then than anybody knew: no size of a body opens at both."""
    body = taught(lesson(wall=1.0), lesson(wall=2.0))
    opens = body.opens[MIDDLE]
    take(body, lesson(share * opens, share * opens + 1.0, 9.0))
    assert [one.at_wall for one in body.lessons] == left


def test_told_late_an_opening_says_too_little_to_forget_those_before():
    """It may lie anywhere between two reports."""
    body = taught(lesson(wall=1.0), lesson(wall=2.0))
    take(body, lesson(200.0, 300.0, 9.0), wide=True)
    assert [one.at_wall for one in body.lessons] == [1.0, 2.0, 9.0]


# Forgetting.


def test_openings_since_then_were_none():
    """To the second; what fell and what was odd go too."""
    body = taught(lesson(wall=10.0), lesson(wall=11.0), odd=[lesson()], fall=lesson())
    forget_since(body, 10.0)
    assert [one.at_wall for one in body.lessons] == [10.0]
    assert (body.odd, body.fall) == ([], None)
    assert body.weights == normal(usual())


def test_with_none_left_nothing_is_known():
    """Not even that openings lie far apart."""
    body = taught(lesson(wall=10.0), wide=True)
    forget_since(body, 9.0)
    assert (body.lessons, body.wide, body.weights, body.opens) == ([], False, [], [])
    forget_since(body, 9.0, 0.5)
    assert body.lessons == []


def test_the_warmest_may_stay_by_the_middle_candidate():
    """At the very share."""
    after = [float(n) for n in ALL]
    warm, cool = lesson(after=[10.0 * one for one in after], wall=1.0), lesson(after=after, wall=2.0)
    body = BodyMemory(
        store_joules=STORE, most=each(0.0), lessons=[warm, cool], weights=usual(), opens=each(1.0)
    )
    forget_since(body, 0.0, 0.1)
    assert [one.at_wall for one in body.lessons] == [1.0, 2.0]
    body.lessons = [warm, lesson(after=[one * 2.0 if n != MIDDLE else 4.9 for n, one in enumerate(after)])]
    forget_since(body, -1.0, 0.1)
    assert body.lessons == [warm]


# What the owner wrote.


def test_the_owners_word_is_where_every_candidate_opens():
    """Each as likely as it is usual."""
    body = BodyMemory(store_joules=STORE)
    trust_owner(body, 600.0)
    assert body.opens == each(warmth_of(600.0))
    assert body.weights == normal(usual())
    assert spread_share(body) == 0.05


# Weighing.


def test_one_opening_says_nothing_of_the_store():
    """Its weights are the usual ones, and it is taken to open low in its bracket."""
    body = taught(lesson(100.0, 101.0))
    assert body.weights == normal(usual())
    assert body.opens == each(100.35)
    assert taught(lesson(100.0, 110.0)).opens == each(100.8)  # no more than 0.8 % over what is sure


def test_nothing_is_weighed_without_an_opening():
    """It stays as it was."""
    body = BodyMemory(store_joules=STORE, weights=[1.0], opens=[2.0])
    weigh(body)
    assert (body.weights, body.opens) == ([1.0], [2.0])


def test_what_was_stood_counts_against_who_says_that_it_must_have_opened():
    """By twice the model's spread of one per cent."""
    most = [103.0 if n < 3 else 50.0 for n in ALL]
    body = BodyMemory(store_joules=STORE, most=most, lessons=[lesson(100.0, 102.0)])
    weigh(body)
    over = exp(-0.5 * (log(103.0 / 102.0) / 0.02) ** 2)
    assert body.weights == normal([one * (over if n < 3 else 1.0) for n, one in enumerate(usual())])


def expected_misfit(openings: list[Lesson], n: int) -> float:
    """The squared spread of the openings as one candidate saw them, each as sure as its bracket is narrow."""
    spots = [0.5 * log(one.before[n] * one.after[n]) for one in openings]
    sure = [1.0 / (log(one.after[n] / one.before[n]) ** 2 / 12.0 + 0.0001) for one in openings]
    mean = sum(a * b for a, b in zip(spots, sure, strict=True)) / sum(sure)
    return sum((a - mean) ** 2 * b for a, b in zip(spots, sure, strict=True)) + (log(SHARES[n]) / 0.35) ** 2


def differing(slope: float, *, second: float = 100.0, wide: float = 1.02) -> list[Lesson]:
    """Two openings that agree at the middle candidate, and elsewhere the less the further from it."""
    return [
        lesson(
            [100.0 * exp(slope * (n - MIDDLE)) for n in ALL],
            [wide * 100.0 * exp(slope * (n - MIDDLE)) for n in ALL],
        ),
        lesson(second, 1.01 * second),
    ]


@pytest.mark.parametrize(("slope", "second"), [(0.002, 100.0), (0.004, 101.0), (-0.003, 100.7)])
def test_two_openings_tell_the_store_where_they_agree(slope, second):
    """Between the candidates, by the parabola through the least and its neighbours."""
    openings = differing(slope, second=second)
    body = taught(*openings)
    misfits = [expected_misfit(openings, n) for n in ALL]
    assert [module._misfit(body, n) for n in ALL] == pytest.approx(misfits)
    least = min(range(1, CANDIDATES - 1), key=misfits.__getitem__)
    before, here, after = misfits[least - 1 : least + 2]
    bend = before - 2.0 * here + after
    middle, spread = least + 0.5 * (before - after) / bend, sqrt(2.0 / bend)
    assert spread > 0.45
    weights = [exp(-0.5 * ((n - middle) / spread) ** 2) for n in ALL]
    assert body.weights == normal(weights)
    assert max(weights[1:-1]) > weights[0]


def test_however_well_they_agree_the_next_candidate_may_be_it():
    """Its weight is never under that of 0.45 of a candidate's spread."""
    openings = differing(0.05)
    body = taught(*openings)
    misfits = [expected_misfit(openings, n) for n in ALL]
    before, here, after = misfits[MIDDLE - 1 : MIDDLE + 2]
    middle = MIDDLE + 0.5 * (before - after) / (before - 2.0 * here + after)
    assert sqrt(2.0 / (before - 2.0 * here + after)) < 0.45
    assert body.weights == normal([exp(-0.5 * ((n - middle) / 0.45) ** 2) for n in ALL])


def test_under_a_watt_of_warmth_is_one():
    """No logarithm of nothing."""
    body = BodyMemory(store_joules=STORE, most=each(0.0), lessons=[lesson(0.0, 0.0), lesson(0.5, 0.5)])
    assert module._misfit(body, MIDDLE) == pytest.approx(0.0)
    body.most = each(2.0)
    assert module._misfit(body, MIDDLE) == pytest.approx((log(2.0) / 0.02) ** 2)
    wide = BodyMemory(most=each(0.0), lessons=[lesson(0.5, 8.0), lesson(1.0, 1.0)])
    sure = (1.0 / (log(8.0) ** 2 / 12.0 + 0.0001), 1.0 / 0.0001)
    mean = sure[0] * log(2.0) / sum(sure)
    spread = sure[0] * (log(2.0) - mean) ** 2 + sure[1] * mean**2
    assert module._misfit(wide, MIDDLE) == pytest.approx(spread)
    weigh(body)
    assert body.opens == each(1.0)


def test_the_parabola_goes_no_further_than_the_next_candidate():
    """And where there is none, the least counts."""
    assert module._best([float((n - 5) ** 2) for n in ALL]) == (5.0, 1.0)
    assert module._best([2.0 * (n - 4.75) ** 2 for n in ALL]) == (
        pytest.approx(4.75),
        pytest.approx(sqrt(0.5)),
    )
    assert module._best([float(n * n) for n in ALL])[0] == pytest.approx(0.0)
    assert module._best([float((n + 9) ** 2) for n in ALL])[0] == 0.0
    assert module._best([float((n - 30) ** 2) for n in ALL])[0] == 10.0
    assert module._best([1.0 * n for n in ALL]) == (1.0, 1.0)
    assert module._best(each(3.0)) == (1.0, 1.0)


def test_between_two_candidates_values_go_by_their_logarithms():
    """At the last one too; under one they count as one."""
    values = [2.0**n for n in ALL]
    for place in (0.0, 0.25, 4.5, 9.0, 9.75, 10.0):
        assert module._between(values, place) == pytest.approx(2.0**place)
    assert module._between(each(0.1), 3.3) == pytest.approx(1.0)
    assert module._between([1.0] * 9 + [4.0, 9.0], 9.5) == pytest.approx(6.0)


def test_the_bracket_is_what_all_openings_share():
    """The most before, the least after; turned round where they contradict."""
    body = BodyMemory(lessons=[lesson(90.0, 105.0), lesson(95.0, 110.0)])
    assert module._bracket(body, 3.5) == (pytest.approx(95.0), pytest.approx(105.0))
    body.lessons.append(lesson(107.0, 109.0))
    assert module._bracket(body, 3.5) == (pytest.approx(105.0), pytest.approx(107.0))


def test_each_candidate_opens_as_it_saw_the_last_opening():
    """In the proportion of the bracket at the place where they agree."""
    openings = differing(0.002, second=100.4)[::-1]
    body = taught(*openings)
    misfits = [expected_misfit(openings, n) for n in ALL]
    middle, _ = module._best(misfits)
    low, high = module._bracket(body, middle)
    place = low + min(0.35 * (high - low), 0.008 * low)
    factor = place / module._between(openings[-1].before, middle)
    assert body.opens == pytest.approx([factor * one for one in openings[-1].before], abs=6e-4)
    assert len(set(body.opens)) == CANDIDATES
    assert body.opens == [round(one, 3) for one in body.opens]


def test_weights_are_kept_to_five_places_and_nothing_is_what_is_usual():
    """Of all that is impossible, what such bodies have."""
    assert module._normal([1.0, 2.0]) == [0.33333, 0.66667]
    assert module._normal([0.0] * CANDIDATES) == normal(usual())
    assert module._normal([1e-299, 1e-299]) == [0.5, 0.5]


# What is said of it.


def known(**changed) -> BodyMemory:
    """A body of which two candidates are as likely as each other, one three times as likely as the rest."""
    weights = [0.0] * CANDIDATES
    weights[4], weights[6] = 0.75, 0.25
    fields = {"store_joules": STORE, "weights": weights, "opens": [100.0 + n for n in ALL],
              "lessons": [lesson(100.0, 104.0)], "most": each(0.0)}  # fmt: skip
    return BodyMemory(**fields | changed)


def test_warmth_is_held_against_where_each_candidate_opens():
    """In the mean by weight, or by the one that says most of those that are not unlikely."""
    body, warmth = known(), [50.0 + n for n in ALL]
    assert fraction(body, warmth) == pytest.approx(0.75 * 54.0 / 104.0 + 0.25 * 56.0 / 106.0)
    assert fraction(body, warmth, 0.5) == pytest.approx(2.0 * (0.75 * 54.0 / 104.0 + 0.25 * 56.0 / 106.0))
    assert fraction_at_worst(body, warmth) == pytest.approx(56.0 / 106.0)
    assert fraction_at_worst(body, warmth, 0.5) == pytest.approx(2.0 * 56.0 / 106.0)
    body.weights[6] = 0.75 * 0.15
    assert fraction_at_worst(body, warmth) == pytest.approx(56.0 / 106.0)
    body.weights[6] = 0.75 * 0.149
    assert fraction_at_worst(body, warmth) == pytest.approx(54.0 / 104.0)


def test_a_mean_needs_no_weights_that_sum_to_one():
    """Its spread is a share of it."""
    mean, share = module._mean([2.0, 6.0], [1.0, 3.0])
    assert (mean, share) == (2.5, pytest.approx(sqrt(0.75) / 2.5))


def test_what_is_told_is_the_mean_and_its_spread():
    """Of time constant and level; the model's own three per cent and the bracket's width come on top."""
    body, facts = known(), HeaterFacts()
    tell(body, facts)
    taus = [tau_seconds(c, w) for c, w in zip(stores(STORE), body.opens, strict=True)]
    watts = [watts_of(one) for one in body.opens]
    tau, opens = 0.75 * taus[4] + 0.25 * taus[6], 0.75 * watts[4] + 0.25 * watts[6]
    # of two points at 3 : 1 the spread is their distance times the root of 3/16
    tau_share = abs(taus[4] - taus[6]) * sqrt(0.1875) / tau
    opens_share = abs(watts[4] - watts[6]) * sqrt(0.1875) / opens
    bracket = sqrt(0.04**2 / 12.0 + 0.01**2)
    assert facts.body_tau_seconds == round(tau, 1)
    assert facts.body_tau_spread_seconds == round(tau * sqrt(tau_share**2 + 0.03**2), 1)
    assert facts.opens_watts == facts.sustained_watts == round(opens, 1)
    spread = round(opens * sqrt(opens_share**2 + (1.3 * bracket) ** 2), 1)
    assert facts.opens_spread_watts == facts.sustained_spread_watts == spread


def test_without_an_opening_or_a_store_nothing_is_told():
    """What was told before is taken back."""
    for body in (known(lessons=[]), known(store_joules=None)):
        facts = HeaterFacts(body_tau_seconds=1.0, body_tau_spread_seconds=1.0, opens_watts=1.0,
                            opens_spread_watts=1.0, sustained_watts=1.0, sustained_spread_watts=1.0)  # fmt: skip
        tell(body, facts)
        assert facts == HeaterFacts()


def test_of_openings_far_apart_the_likely_warmth_is_told():
    """Not the one that runs may come to."""
    body, facts = known(wide=True, usual_opens=100.0, lessons=[lesson(90.0, 130.0)]), HeaterFacts()
    tell(body, facts)
    at = [module.likely(body, n) for n in ALL]
    assert facts.opens_watts == round(0.75 * watts_of(at[4]) + 0.25 * watts_of(at[6]), 1)


def test_the_spread_is_that_of_an_even_bracket_and_of_the_model():
    """A twelfth of its square (derived: the uniform distribution), and one per cent."""
    body = known(lessons=[lesson([100.0 + n for n in ALL], [104.0 + 2.0 * n for n in ALL])])
    place = 4.0 * 0.75 + 6.0 * 0.25
    low, high = (module._between(one, place) for one in (body.lessons[0].before, body.lessons[0].after))
    assert spread_share(body) == pytest.approx(sqrt((high / low - 1.0) ** 2 / 12.0 + 0.0001))
    body.weights = [2.0 * one for one in body.weights]
    assert spread_share(body) == pytest.approx(sqrt((high / low - 1.0) ** 2 / 12.0 + 0.0001))


@pytest.mark.parametrize(("after", "share"), [(110.0, 0.1), (120.0, 0.2), (200.0, 0.2)])
def test_of_openings_far_apart_the_spread_is_no_more_than_such_bodies_have(after, share):
    """A fifth."""
    body = known(wide=True, lessons=[lesson(100.0, after)])
    assert spread_share(body) == pytest.approx(sqrt(share**2 / 12.0 + 0.0001))


def test_an_endless_share_keeps_no_opening():
    """The usual one: without a share, nothing is as warm."""
    body = taught(lesson(wall=10.0))
    forget_since(body, 9.0, inf)
    assert body.lessons == []
