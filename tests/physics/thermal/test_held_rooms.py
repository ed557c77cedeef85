"""A room that is held well tells little of itself: what its record may not change, and what no room is."""

from dataclasses import replace

import numpy as np
import pytest

from tests.physics.thermal.rooms import KNOWN, WATTS, record
from thermostatd.physics.thermal import learned
from thermostatd.physics.thermal.fitting import fit, fit_best, to_parameters, usual
from thermostatd.physics.thermal.learned import (
    MOST_MOVED_KELVIN,
    MOST_OTHER,
    MOVED_AS_MUCH,
    anchor_of,
    answer_kelvin,
    has_credible_mass,
    learn,
)

PRIOR = usual(WATTS, 900.0, False)
TRUE = to_parameters(KNOWN)


@pytest.fixture(scope="module")
def lively():
    """A day that a relay swung."""
    return record(1)


def held(lively, share):
    """The same, moved by so much of it only."""
    return replace(lively, celsius=20.0 + share * (lively.celsius - 20.0))


def first_part(whole, share):
    """So much of a record, from its begin."""
    end = int(share * len(whole))
    parts = {name: getattr(whole, name)[:end] for name in ("celsius", "inputs")}
    return replace(whole, **parts)


def other(times):
    """Constants by which the air answers so many times as much, at any time."""
    light = KNOWN.plain()
    for name in ("air_joules_per_kelvin", "mass_joules_per_kelvin", "to_mass", "to_outdoors", "to_neighbours"):
        light[name] = light[name] / times
    return to_parameters(type(KNOWN)(**light))


def test_the_answers_of_what_moved_most_are_kept(lively):
    """How the air answers after one hour and three, of the record that moved most, and how much that was."""
    first = anchor_of(lively, TRUE, None)
    expected = [answer_kelvin(TRUE, 60), answer_kelvin(TRUE, 180)]
    assert first["answers"] == pytest.approx(expected, rel=1e-3)
    assert first["moved_kelvin"] == pytest.approx(float(np.std(lively.celsius)), abs=1e-4)
    assert first["moved_kelvin"] < MOST_MOVED_KELVIN
    assert anchor_of(held(lively, 9.0), TRUE, None)["moved_kelvin"] == MOST_MOVED_KELVIN, "more tells no more"
    assert anchor_of(held(lively, 0.9 * MOVED_AS_MUCH), TRUE, first) == first
    again = anchor_of(held(lively, 1.1 * MOVED_AS_MUCH), other(1.2), first)
    assert again == {
        "answers": [round(answer_kelvin(other(1.2), at), 7) for at in (60, 180)],
        "moved_kelvin": first["moved_kelvin"],
    }


def test_a_little_less_each_night_does_not_add_up(lively):
    """A room that is held ever better may not say ever other: the bound is of the most that any record moved."""
    anchor, share, said = anchor_of(lively, TRUE, None), 1.0, []
    for night in range(1, 8):
        share *= 0.85
        found = anchor_of(held(lively, share), other(1.3**night), anchor)
        said.append(found is not None)
        anchor = found or anchor
    assert share < MOVED_AS_MUCH
    assert said == [True, True, True, True, True, False, False], "the fifth is within what a held room may say"


@pytest.mark.parametrize(("times", "taken"), [(1.05, True), (1.1 * MOST_OTHER, False), (0.9 / MOST_OTHER, False)])
def test_a_held_room_changes_them_little(lively, times, taken):
    """What moved much less may say a little other, never much; what moved as much may say anything."""
    first = anchor_of(lively, TRUE, None)
    found = anchor_of(held(lively, 0.5 * MOVED_AS_MUCH), other(times), first)
    assert (found == first) if taken else (found is None)
    assert anchor_of(lively, other(times), first)["answers"] != first["answers"]


def test_older_programs_kept_no_answers(lively):
    """Then whatever is found holds, as before."""
    assert anchor_of(held(lively, 0.01), other(3.0), {"constants": KNOWN.plain()}) is not None


def test_no_room_has_such_a_mass():
    """Some sixteen times what is usual, to either side, and no further."""
    for times, credible in ((15.0, True), (18.0, False), (1 / 15.0, True), (1 / 18.0, False)):
        parameters = PRIOR.mean.copy()
        parameters[2] += np.log(times)
        assert has_credible_mass(parameters, PRIOR) is credible


def test_a_mass_of_nobodys_is_fitted_again_by_what_is_usual(lively, monkeypatch):
    """Its mass is held to what is usual, and nothing else; and where that does not help, nothing is learned."""
    answers = iter([False, True])
    monkeypatch.setattr(learned, "has_credible_mass", lambda *_: next(answers))
    spread = PRIOR.spread * np.where(np.arange(9) == 2, 0.3, 1.0)
    head = fit_best(first_part(lively, 0.75), PRIOR).parameters
    strict = fit(lively, replace(PRIOR, spread=spread), head, rounds=12)
    judged = learn(lively, 900.0, False, None)
    assert judged.constants == strict.constants
    assert judged.plain["answers"][0] == pytest.approx(answer_kelvin(strict.parameters, 60), rel=1e-3)
    monkeypatch.setattr(learned, "has_credible_mass", lambda *_: False)
    assert learn(lively, 900.0, False, None) is None


def test_a_night_that_says_other_of_a_held_room_changes_nothing(lively):
    """The model in use stays, though the new one forecasts better."""
    worse = {"constants": {**KNOWN.plain(), "air_joules_per_kelvin": 5e6}}
    found = learn(lively, 900.0, False, worse)
    assert found is not None
    same = {**worse, "answers": found.plain["answers"], "moved_kelvin": 9.0}
    assert learn(lively, 900.0, False, same).plain["moved_kelvin"] == 9.0
    far = [answer * 2.0 * MOST_OTHER for answer in found.plain["answers"]]
    assert learn(lively, 900.0, False, {**same, "answers": far}) is None


def test_a_model_of_no_room_is_not_clung_to():
    """An older program may have kept one that forecasts a held room as well as any: it is not compared with."""
    assert learned._known({"constants": KNOWN.plain()}, PRIOR) is not None
    assert learned._known({"constants": {**KNOWN.plain(), "mass_joules_per_kelvin": 1.9e9}}, PRIOR) is None
    assert learned._known({"constants": {"mass_joules_per_kelvin": 3.0e6}}, PRIOR) is None
