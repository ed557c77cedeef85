"""Volts lost per ampere, report by report (derived: weighted least squares), and each bound at its edge."""

from __future__ import annotations

from math import sqrt

import pytest

from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter import socket


def told(notes, volts, amps, at, *, settled=True, nominal=230.0):
    """The evidence after one report."""
    kept = HeaterMemory(volts=volts, watts=None if amps is None else volts * amps, watts_at=at)
    return socket.hear(notes, kept, settled, nominal)


def last(volts=230.0, amps=0.0, at=100.0, **more):
    """Notes after one report."""
    return {"last": [volts, amps, at]} | more


def test_a_report_is_kept_in_hundredths():
    """At 230 V, and amperes of what it drew."""
    notes = {}
    assert told(notes, 229.126, 2.0149, 100.0) is None
    assert notes == {"last": [229.13, 2.01, 100.0]}
    notes = {}
    told(notes, 115.0, 4.0, 100.0, nominal=115.0)
    assert notes["last"] == [230.0, 2.0, 100.0]
    notes = {}
    told(notes, 230.0, -1.0, 100.0)
    assert notes["last"] == [230.0, 0.0, 100.0]


def test_what_is_not_settled_or_not_told_is_no_report():
    """Nothing is kept of it."""
    notes = {}
    assert told(notes, 230.0, 2.0, 100.0, settled=False) is None
    assert told(notes, 230.0, None, 100.0) is None
    assert told(notes, 230.0, 2.0, None) is None
    assert socket.hear(notes, HeaterMemory(volts=None, watts=1.0, watts_at=1.0), True, 230.0) is None
    assert socket.hear(notes, HeaterMemory(volts=0.0, watts=1.0, watts_at=1.0), True, 230.0) is None
    assert notes == {}


@pytest.mark.parametrize(("at", "counts"), [(1060.0, True), (1060.5, False), (100.0, False), (99.0, False)])
def test_two_reports_belong_together_for_sixteen_minutes(at, counts):
    """Forwards; the later is kept in any case."""
    notes = last()
    told(notes, 225.0, 5.0, at)
    assert ("row" in notes) is counts
    assert notes["last"] == [225.0, 5.0, at]


@pytest.mark.parametrize(
    ("amps", "steps", "noise"),
    [(1.0, True, False), (-1.0, True, False), (0.99, False, False), (0.31, False, False), (0.29, False, True),
     (-0.29, False, True)],
)  # fmt: skip
def test_an_ampere_is_a_switching_and_under_a_third_of_one_is_the_mains_own(amps, steps, noise):
    """What is between says nothing."""
    notes = last(amps=2.0)
    told(notes, 229.0, 2.0 + amps, 200.0)
    assert ("row" in notes) is steps
    assert ("noise" in notes) is noise


@pytest.mark.parametrize(
    ("volts", "before", "after"),
    [(228.0, None, 0.0301), (228.0, 0.05, 0.0499), (210.0, 0.03, 0.0324), (230.0, 0.03, 0.0297)],
)
def test_how_much_the_mains_moves_is_learned_slowly(volts, before, after):
    """V² a second, a hundredth each time; one leap counts for nine times as much at most."""
    notes = last() if before is None else last(noise=before)
    told(notes, volts, 0.0, 200.0)
    assert notes["noise"] == pytest.approx(after)


def test_what_is_learned_of_the_mains_and_the_house_is_short():
    """A hundred thousandth of V² a second, a thousandth of an ohm."""
    notes = last(noise=0.03333)
    told(notes, 228.7, 0.0, 200.0)
    assert notes["noise"] == round(0.03333 + 0.01 * (0.0169 - 0.03333), 5)
    notes = {"usual": 0.3}
    socket._judge(notes, [(1.11, 5.0, 0.1)] * 16)
    assert notes["usual"] == round(0.3 + 0.02 * (0.222 - 0.3), 3)


@pytest.mark.parametrize(("volts", "kept"), [(215.0, True), (214.9, False), (245.0, True), (245.1, False)])
def test_fifteen_volts_an_ampere_are_no_contact(volts, kept):
    """Something else happened."""
    notes = last()
    told(notes, volts, 1.0, 200.0)
    assert ("row" in notes) is kept


def test_a_switching_is_kept_with_what_the_mains_may_have_moved_meanwhile():
    """In hundredths; sixteen of them."""
    notes = last(noise=0.0204)
    told(notes, 226.554, 5.0, 200.0)
    assert notes["row"] == [3.45, 5.0, 2.04]
    notes = last()
    told(notes, 226.0, 5.0, 200.0)
    assert notes["row"] == [4.0, 5.0, 3.0]
    notes = last(noise=0.02046)
    told(notes, 226.0, 5.1264, 200.0)
    assert notes["row"] == [4.0, 5.13, 2.05]
    old = [one for n in range(16) for one in (float(n), 5.0, 1.0)]
    notes = last(row=old)
    told(notes, 226.0, 5.0, 200.0)
    assert notes["row"] == [*old[3:], 4.0, 5.0, 3.0]


def test_four_switchings_are_judged_and_three_are_not():
    """All on the same ohms."""
    for count, judged in ((3, True), (2, False)):
        notes = last(row=[10.0, 5.0, 0.1] * count, noise=0.001)
        assert (told(notes, 220.0, 5.0, 200.0) is not None) is judged


def bad(ohms, count=4, *, amps=5.0, variance=1.0, usual=None, stray=0.0):
    """The evidence of so many switchings that lost so many ohms, by turns a little more and less."""
    steps = [[ohms * amps + (stray if n % 2 else -stray), amps, variance] for n in range(count)]
    notes = {} if usual is None else {"usual": usual}
    return socket._judge(notes, steps), notes


def test_a_contact_is_bad_from_just_under_a_half_ohm_over_the_usual():
    """0.45 over it: 0.75 in a house of which nothing is known yet."""
    assert bad(0.76, 16, variance=0.0)[0] is not None
    assert bad(0.74, 16, variance=0.0)[0] is None
    assert bad(0.56, 16, variance=0.0, usual=0.1)[0] is not None
    assert bad(0.54, 16, variance=0.0, usual=0.1)[0] is None
    assert bad(1.06, 16, variance=0.0, usual=5.0)[0] is not None  # the usual is no more than twice that
    assert bad(1.04, 16, variance=0.0, usual=5.0)[0] is None


def test_it_stands_out_of_the_mains_own_movement_four_times_over():
    """The error of the mean of n switchings (derived): the root of their variance over n amperes squared."""
    amps, variance, count = 5.0, 4.0, 4
    error = sqrt(variance / (count * amps**2))
    limit = 0.3 + 4.0 * error
    assert limit > 0.75
    assert bad(limit + 0.001, count, amps=amps, variance=variance)[0] is not None
    assert bad(limit - 0.001, count, amps=amps, variance=variance)[0] is None


def test_switchings_that_disagree_are_less_sure():
    """By their own scatter, with one degree of freedom less than there are."""
    amps, variance, count, stray = 5.0, 1.0, 4, 3.0
    scatter = count * stray**2 / variance / (count - 1)
    error = sqrt(scatter * variance / (count * amps**2))
    limit = 0.3 + 4.0 * error
    assert bad(limit + 0.001, count, amps=amps, variance=variance, stray=stray)[0] is not None
    assert bad(limit - 0.001, count, amps=amps, variance=variance, stray=stray)[0] is None


def test_each_switching_counts_by_its_amperes_and_its_sureness():
    """Weighted least squares through nothing; no variance is under 0.05 V²."""
    steps = [[5.0, 5.0, 1.0], [12.0, -6.0, 4.0], [2.0, 4.0, 0.01], [9.0, 6.0, 2.0]]
    weights = [1.0, 0.25, 20.0, 0.5]
    ohms = sum(w * a * b for w, (a, b, _) in zip(weights, steps, strict=True)) / sum(
        w * b * b for w, (_, b, _) in zip(weights, steps, strict=True)
    )
    notes = {"usual": ohms - 0.3}
    found = [[ohms * b, b, v] for _, b, v in steps]
    assert socket._judge(dict(notes), found) is None
    steps = [[5.0, 5.0, 1.0]] * 2 + [[8.0, 4.0, 0.01]] * 2
    evidence = socket._judge({}, steps)
    ohms = (2 * 25.0 + 2 * 20.0 * 32.0) / (2 * 25.0 + 2 * 20.0 * 16.0)
    assert evidence.numbers == pytest.approx({"volts": 5.0 * ohms, "ohms": ohms, "usual": 0.3})


def test_the_evidence_is_of_the_greatest_load():
    """Whichever way it was switched."""
    evidence, _ = bad(2.0, amps=-6.0)
    assert evidence.numbers == pytest.approx({"volts": 12.0, "ohms": 2.0, "usual": 0.3})
    assert evidence == (
        "The voltage falls by 12.0 V when the heater comes on: 2.0 ohm are lost on the way, 0.3 are usual here."
    )


@pytest.mark.parametrize(
    ("ohms", "count", "usual", "after"),
    [(0.2, 16, None, 0.298), (0.2, 15, None, None), (0.62, 16, None, 0.306), (0.63, 16, None, None),
     (0.01, 16, 0.3, 0.296), (0.7, 16, 0.5, 0.502), (0.2, 16, 9.0, 0.592)],
)  # fmt: skip
def test_a_houses_usual_loss_is_learned_slowly_while_nothing_stands_out(ohms, count, usual, after):
    """From sixteen switchings, a fiftieth each time, between 0.1 and 0.6 ohm."""
    evidence, notes = bad(ohms, count, variance=0.1, usual=usual)
    assert evidence is None
    assert notes.get("usual") == (usual if after is None else pytest.approx(after))
