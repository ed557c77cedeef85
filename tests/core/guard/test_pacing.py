"""When a heater's body has to rest, at the edges of the bounds. The body is set as if it had been followed so far."""

import pytest

from tests.core.guard.cases import NOW, case_of, good
from tests.stories.teller import study
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, later
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.guard import pacing
from thermostatd.core.reasons import reason
from thermostatd.core.results import Verdict

STORE = 20_000.0
HELD = Verdict("pacing", True, reason("pacing"), safety=False)
MIDDLE = CANDIDATES // 2
RUNS = {"told_on": True, "on_since": NOW - 4000.0, "shown_on": True}
RESTS = {"told_on": False, "off_since": NOW - 600.0, "shown_on": False}


def judged(
    monkeypatch,
    *,
    opens=100.0,
    warmth=0.0,
    lessons=2,
    watts=600.0,
    wanted=True,
    min_on="5 min",
    kept=RESTS,
    facts=None,
    air=20.0,
    weights=True,
    **body,
):
    """The verdict on a body of known warmth that opens at a known one; and the body."""
    monkeypatch.setattr(pacing, "follow", lambda case: case.kept.body)
    known = BodyMemory(
        store_joules=STORE,
        watts=watts,
        warmth=[warmth] * CANDIDATES,
        opens=[opens] * CANDIDATES,
        weights=[float(n == MIDDLE) for n in range(CANDIDATES)] if weights else [],
        lessons=[Lesson(0.0, [opens] * CANDIDATES, [opens] * CANDIDATES)] * lessons,
        **body,
    )
    toml = study(heater=f'min_on = "{min_on}"')
    case = case_of(
        toml=toml, wanted=wanted, air=air, **kept | {"body": known, "facts": facts or HeaterFacts()}
    )
    return pacing.judge(case), known


def reached(seconds, watts=600.0, warmth=0.0):
    """Where a run ends, on the body's own scale."""
    return later(warmth, watts, seconds, STORE, 60.0)


def test_the_body_is_followed_in_each_step_whatever_is_wanted():
    """Even one that is not asked to run is brought up to now."""
    case = case_of(wanted=False, **RESTS)
    assert pacing.judge(case) == good("pacing")
    assert case.kept.body.at == NOW


@pytest.mark.parametrize("change", [{"wanted": False}, {"weights": False}])
def test_nothing_is_held_before_an_opening_was_seen_or_while_nothing_is_wanted(monkeypatch, change):
    """However warm the body."""
    assert judged(monkeypatch, opens=1.0, warmth=99.0, **change)[0] == good("pacing")


@pytest.mark.parametrize(("lessons", "limit"), [(2, 0.98), (1, 0.92), (0, 0.92)])
@pytest.mark.parametrize(("over", "held"), [(1.0001, True), (0.9999, False)])
def test_a_running_heater_rests_before_the_next_step_passes_the_limit(
    monkeypatch, lessons, limit, over, held
):
    """98 % of the opening warmth, 92 % until two openings are known; one tick of ten seconds ahead."""
    warmth = 60.0
    opens = reached(10.0, warmth=warmth) / (limit * over)
    said, _ = judged(monkeypatch, opens=opens, warmth=warmth, lessons=lessons, kept=RUNS)
    assert said == (HELD if held else good("pacing"))


def test_a_warm_room_lowers_the_limit(monkeypatch):
    """What is left of the rise to the opening counts."""
    opens = reached(10.0, warmth=60.0) / (0.98 * 0.9)
    assert judged(monkeypatch, opens=opens, warmth=60.0, kept=RUNS)[0] == good("pacing")
    assert judged(monkeypatch, opens=opens, warmth=60.0, kept=RUNS, air=35.0)[0] == HELD
    assert judged(monkeypatch, opens=reached(300.0) / (0.98 * 0.9), warmth=0.0)[0] == good("pacing")
    assert (
        judged(monkeypatch, opens=reached(300.0, warmth=5.0) / (0.98 * 0.95), warmth=5.0, air=35.0)[0] == HELD
    )


def test_a_body_that_draws_nothing_counts_one_watt(monkeypatch):
    """At no power it still cools from where it is."""
    opens = reached(10.0, 1.0, 60.0) / 0.98
    assert judged(monkeypatch, opens=opens * 1.000002, warmth=60.0, watts=0.0, kept=RUNS)[0] == good("pacing")
    assert judged(monkeypatch, opens=opens * 0.999998, warmth=60.0, watts=0.0, kept=RUNS)[0] == HELD


@pytest.mark.parametrize(
    ("ran", "fits", "held"),
    [
        (299.0, True, False),
        (300.0, True, True),
        (299.0, False, True),
        (None, True, False),
        (None, False, True),
    ],
)
def test_a_shortest_run_is_not_cut_if_one_from_cold_would_fit(monkeypatch, ran, fits, held):
    """Five minutes to the second; a run that could never fit is cut anyway; a start not known is a start now."""
    opens = reached(300.0) / (0.98 if fits else 0.981)
    kept = RUNS | {"on_since": None if ran is None else NOW - ran}
    assert judged(monkeypatch, opens=opens * 1.00001, warmth=500.0, kept=kept)[0] == (
        HELD if held else good("pacing")
    )


def test_a_run_whose_start_is_not_known_counts_as_begun_now(monkeypatch):
    """It is not cut before its shortest run, be that a second."""
    kept = RUNS | {"on_since": None}
    assert judged(monkeypatch, opens=100.0, warmth=500.0, kept=kept, min_on="1 s")[0] == good("pacing")


def test_a_shortest_run_that_fits_in_a_cool_room_may_not_fit_in_a_warm_one(monkeypatch):
    """A heater that may not finish one there is cut at once."""
    opens = reached(300.0) / 0.98 * 1.00001
    kept = RUNS | {"on_since": NOW - 10.0}
    assert judged(monkeypatch, opens=opens, warmth=500.0, kept=kept)[0] == good("pacing")
    assert judged(monkeypatch, opens=opens, warmth=500.0, kept=kept, air=35.0)[0] == HELD


FELL = {"opens": 1.0, "warmth": 500.0}


@pytest.mark.parametrize(
    ("ago", "period", "tail", "fall", "held"),
    [
        (89.0, 10.0, 0, True, False),
        (90.0, 10.0, 0, True, True),
        (104.0, 30.0, 0, True, False),
        (105.0, 30.0, 0, True, True),
        (10.0, 10.0, 3, False, True),
        (10.0, 10.0, 2, False, False),
        (10.0, 10.0, 3, True, False),
        (10.0, 10.0, 4, False, True),
    ],
)
def test_power_that_fell_is_looked_at_before_the_body_rests(monkeypatch, ago, period, tail, fall, held):
    """Ninety seconds or three and a half reports; a fall that teaches nothing more is over after three."""
    lesson = Lesson(0.0, [1.0] * CANDIDATES, [1.0] * CANDIDATES) if fall else None
    said, _ = judged(
        monkeypatch,
        **FELL,
        kept=RUNS | {"meter_period": period},
        fell_at=NOW - ago,
        fall=lesson,
        tail=[1.0] * tail,
    )
    assert said == (HELD if held else good("pacing"))


def test_a_trial_runs_on_until_it_opens(monkeypatch):
    """One run past the limit, which is to teach how large the store is."""
    assert judged(monkeypatch, **FELL, kept=RUNS, trial=True)[0] == good("pacing")


@pytest.mark.parametrize(("lessons", "limit"), [(2, 0.98), (1, 0.92)])
@pytest.mark.parametrize(("over", "held"), [(1.0001, True), (0.9999, False)])
def test_an_on_waits_until_a_shortest_run_fits(monkeypatch, lessons, limit, over, held):
    """From the warmth of now, at the watts of its level, through its shortest run."""
    warmth = 2.0
    opens = reached(300.0, warmth=warmth) / (limit * over)
    said, body = judged(monkeypatch, opens=opens, warmth=warmth, lessons=lessons, trial=True)
    assert said == (HELD if held else good("pacing"))
    assert body.trial is False


@pytest.mark.parametrize(
    ("stood", "limit"), [(1.01, 0.98), (1.0, 0.98), (0.99, 0.9702), (0.95, 0.931), (0.897, 0.88), (0.5, 0.88)]
)
def test_no_run_goes_further_than_the_last_opening_had_surely_stood(stood, limit):
    """By two hundredths; but an opening that is hardly known does not halve its heat."""
    latest = Lesson(0.0, [100.0 * stood] * CANDIDATES, [110.0] * CANDIDATES)
    first = Lesson(0.0, [100.0] * CANDIDATES, [100.0] * CANDIDATES)
    body = BodyMemory(
        opens=[100.0] * CANDIDATES, weights=[float(n == MIDDLE) for n in range(CANDIDATES)], lessons=[first, latest]
    )
    assert pacing.limit_share(body, 10.0) == pytest.approx(limit)


@pytest.mark.parametrize(("share", "held"), [(0.081, True), (0.079, False)])
def test_where_not_even_a_shortest_run_from_cold_fits_it_starts_cold_alone(monkeypatch, share, held):
    """Under 8 % of the opening warmth it counts as cold."""
    opens = reached(300.0) / 1.5
    assert judged(monkeypatch, opens=opens, warmth=share * opens)[0] == (HELD if held else good("pacing"))


@pytest.mark.parametrize(("share", "held"), [(0.101, True), (0.099, False)])
def test_one_found_open_cools_first(monkeypatch, share, held):
    """To its own share, told by a switch-on that found it open."""
    said, _ = judged(monkeypatch, opens=1000.0, warmth=share * 1000.0, cool_share=0.1)
    assert said == (HELD if held else good("pacing"))
    said, _ = judged(monkeypatch, opens=1000.0, warmth=100.0, cool_share=0.101, air=35.0)
    assert said == HELD


TRIES = {"lessons": 1, "facts": HeaterFacts(opens_watts=500.0), "kept": RESTS | {"meter_period": 60.0}}


@pytest.mark.parametrize(
    ("share", "held", "trial"),
    [(0.61, False, True), (0.63, True, False), (0.36, False, True), (0.34, False, False)],
)
def test_a_trial_starts_half_warm(monkeypatch, share, held, trial):
    """Between 35 and 62 % of the opening warmth; over that it waits, under it an ordinary run is let."""
    said, body = judged(monkeypatch, opens=1000.0, warmth=share * 1000.0, **TRIES)
    assert said == (HELD if held else good("pacing"))
    assert (body.trial, body.trials) == (trial, int(trial))


@pytest.mark.parametrize(
    ("change", "trial"),
    [
        ({}, True),
        ({"lessons": 2}, False),
        ({"trials": 1}, True),
        ({"trials": 2}, False),
        ({"facts": HeaterFacts(opens_watts=572.0)}, False),
        ({"facts": HeaterFacts(opens_watts=571.0)}, True),
        ({"facts": HeaterFacts()}, True),
        ({"lessons": 0}, False),
    ],
)
def test_a_trial_needs_one_opening_and_a_level_that_would_open_it(monkeypatch, change, trial):
    """After one opening, twice at most, 5 % over what opens it."""
    _, body = judged(monkeypatch, opens=1000.0, warmth=500.0, **TRIES | change)
    assert body.trial is trial
    assert body.trials == change.get("trials", 0) + trial


@pytest.mark.parametrize(("trial", "left"), [(True, 1), (False, 2)])
def test_a_trial_that_ended_before_it_opened_is_not_counted(monkeypatch, trial, left):
    """No heat was wanted any more: it told nothing."""
    _, body = judged(monkeypatch, opens=1000.0, warmth=700.0, **TRIES | {"trials": 2, "trial": trial})
    assert (body.trial, body.trials) == (False, left)


@pytest.mark.parametrize(("min_on", "held"), [("5 min", False), ("20 min", True)])
def test_the_run_that_has_to_fit_is_the_heaters_own_shortest(monkeypatch, min_on, held):
    """A longer shortest run asks for more room."""
    opens = reached(300.0) / 0.5
    assert judged(monkeypatch, opens=opens, warmth=0.09 * opens, min_on=min_on)[0].tripped is held
