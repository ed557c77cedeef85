"""A plug that gives no answer: what counts as silence, for how long, and how loud it is told."""

import pytest

from tests.core.guard.cases import BLIND, METERED, NOW, SIMULATED, case_of, good, now_at, on_trial, trips
from tests.stories.teller import study
from thermostatd.core.guard import silent_plug

CODE = "silent-plug"


def says(state="OFF", *, trouble=False, loud=False):
    """Tripped, with the plug's last known state."""
    evidence = f"Its last known state is {state}; it has not answered."
    return trips(CODE, trouble=trouble, loud=loud, evidence=evidence)


def judged(notes=None, toml=None, **kept):
    """What is said of a plug."""
    case = case_of(toml=toml, notes={CODE: dict(notes or {})}, **kept)
    return case, silent_plug.judge(case)


@pytest.mark.parametrize(
    ("kept", "expected"),
    [
        ({"away_since": NOW - 180.0, "shown_on": False}, says()),
        ({"away_since": NOW - 181.0, "shown_on": False}, says(trouble=True)),
        ({"away_since": None, "shown_on": False}, says()),
        ({"away_since": NOW - 60.0, "shown_on": None}, says("unknown")),
        ({"away_since": NOW - 60.0, "shown_on": True, "lapses": NOW - 120.0}, says("ON")),
        (
            {"away_since": NOW - 60.0, "shown_on": True, "lapses": NOW - 121.0},
            says("ON", trouble=True, loud=True),
        ),
        (
            {"away_since": NOW - 60.0, "shown_on": None, "maybe_on": True, "lapses": NOW - 121.0},
            says("unknown", trouble=True, loud=True),
        ),
        ({"away_since": NOW - 60.0, "shown_on": False, "lapses": NOW - 900.0}, says()),
    ],
)
def test_a_plug_that_is_away_is_told_after_three_minutes_and_loudly_past_its_lapse(kept, expected):
    """Three minutes; two minutes past the lapse of an ON that it may have. One that can never be heard owes no answer,
    and is told nothing while it is known to be away."""
    for kind in (SIMULATED, BLIND):
        assert judged(toml=study().replace(SIMULATED, kind), reachable=False, **kept)[1] == expected


IGNORES = {"shown_on": True, "told_at": NOW - 121.0, "lapses": NOW + 600.0}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, says("ON")),
        ({"told_at": NOW - 120.0}, None),
        ({"settled_at": NOW - 120.0}, None),
        ({"told_at": None}, None),
        ({"told_at": None, "settled_at": NOW - 121.0}, says("ON")),
        ({"told_at": NOW - 181.0}, says("ON", trouble=True)),
        ({"settled_at": NOW - 500.0}, says("ON")),
        ({"told_on": True}, None),
        ({"shown_on": False}, None),
        ({"toml": study().replace(SIMULATED, METERED)}, None),
        ({"toml": study().replace(SIMULATED, BLIND)}, None),
    ],
)
def test_off_unanswered_for_two_minutes_trips(change, expected):
    """From the order or from what was last settled, whichever is later; only a plug that shows its contact."""
    assert judged(**IGNORES | change)[1] == (expected or good(CODE))


DEAF = {"told_on": True, "on_since": NOW - 400.0, "told_at": NOW - 121.0, "shown_on": False}


@pytest.mark.parametrize(("tries", "pause"), [(None, 600.0), (1, 1800.0), (2, 3600.0), (3, 3600.0)])
def test_on_unanswered_for_two_minutes_is_given_up_for_longer_each_time(tries, pause):
    """Ten, thirty, sixty minutes, and the household is told."""
    case, said = judged({"tries": tries, "pause_until": NOW} if tries else {}, **DEAF)
    assert said == says(trouble=True)
    assert case.kept.notes[CODE] == {"tries": (tries or 0) + 1, "pause_until": NOW + pause}


@pytest.mark.parametrize(
    "change",
    [
        {"told_at": NOW - 120.0},
        {"told_at": None},
        {"answered": True},
        {"unanswered_since": NOW - 120.0},
        {"shown_on": None},
        {"shown_on": True},
        {"told_on": False},
        {"toml": study().replace(SIMULATED, METERED)},
    ],
)
def test_an_on_is_not_given_up_before_its_time(change):
    """Two minutes from the order and from the last answer; a plug that cannot show is not asked to."""
    case, said = judged(**DEAF | change)
    assert said == good(CODE)
    assert case.kept.notes[CODE] == {}


def test_an_order_older_than_the_last_answer_counts_from_the_answer():
    """Two minutes after it fell silent, however old the order."""
    assert judged(**DEAF | {"told_at": NOW - 9000.0, "unanswered_since": NOW - 121.0})[1].tripped
    assert judged(**DEAF | {"told_at": NOW - 121.0, "unanswered_since": NOW - 9000.0})[1].tripped


QUIET = {"told_on": False, "shown_on": False}


@pytest.mark.parametrize(
    ("pause_until", "change", "expected"),
    [
        (NOW + 1.0, {}, says(trouble=True)),
        (NOW, {}, "trial"),
        (NOW - 21600.0, {}, "trial"),
        (NOW - 21601.0, {}, None),
        (NOW - 21601.0, {"shown_on": None}, "trial"),
        (NOW - 21601.0, {"reachable": False, "away_since": NOW}, says(trouble=True)),
        (NOW + 9.0, {"told_on": True, "shown_on": True}, None),
        (NOW - 9.0, {"told_on": True, "shown_on": None}, "trial"),
    ],
)
def test_a_given_up_plug_is_on_trial_until_it_answers_or_was_off_for_six_hours(pause_until, change, expected):
    """The trouble stands until ON is shown, or for six hours after its pause while nobody wants heat."""
    case, said = judged({"tries": 1, "pause_until": pause_until}, **QUIET | change)
    trial = on_trial(CODE, "Its last known state is OFF; it has not answered.")
    assert said == (trial if expected == "trial" else expected or good(CODE))
    assert case.kept.notes[CODE] == ({} if expected is None else {"tries": 1, "pause_until": pause_until})


def test_an_old_failure_holds_while_heat_is_told():
    """A plug that is told ON now is not forgiven for having been off."""
    case, _ = judged({"tries": 1, "pause_until": NOW - 30000.0}, told_on=True, told_at=NOW, shown_on=False)
    assert case.kept.notes[CODE]["tries"] == 1


def test_a_pause_is_silent_for_ever_until_it_ends():
    """In its pause a plug that is there and OFF is still tripped, and told."""
    case = case_of(now=now_at(NOW), notes={CODE: {"pause_until": NOW + 5.0}}, **QUIET)
    assert silent_plug.judge(case) == says(trouble=True)
