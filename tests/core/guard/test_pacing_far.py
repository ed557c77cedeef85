"""When a body rests whose reports come far apart: limits, looks and waits, at the edges of their bounds (derived)."""

import pytest

from tests.core.body.bodies import MIDDLE, body_of, risk
from tests.core.guard.cases import NOW, good
from tests.core.guard.far import HELD, RESTS, RUNS, WARM, WATTS, judged
from thermostatd.core.guard import pacing
from thermostatd.core.meter.causes import FLOWS, NOTHING, ON


@pytest.mark.parametrize(
    ("openings", "limit"),
    [
        ([], 0.92),
        ([(0.0, 111.0)], 0.92),
        ([(0.0, 109.9)], 0.972),
        ([(0.0, 130.0)] * 2, 0.972),
        ([(0.0, 130.0)] * 3, 0.972),
    ],
)
def test_the_limit_is_close_once_an_opening_is_known_to_a_tenth(openings, limit):
    """Or two openings are; 92 % until then."""
    assert pacing.limit_share(body_of(100.0, *openings), 10.0) == limit


@pytest.mark.parametrize(
    ("tick", "less"), [(1.0, 0.0), (10.0, 0.0), (35.0, 0.015), (60.0, 0.03), (300.0, 0.03)]
)
def test_a_body_that_is_looked_at_seldom_keeps_further_from_its_limit(tick, less):
    """A step a minute is a tenth of a run."""
    assert pacing.limit_share(body_of(100.0, (0.0, 130.0)), tick) == pytest.approx(0.92 - less)


@pytest.mark.parametrize(
    ("low", "change", "let"),
    [
        (136.5, {}, True),
        (136.0, {}, False),
        (136.5, {"air": WARM}, False),  # the same power comes nearer to it
        (136.5, {"wide": False}, False),
        (200.0, {}, True),
    ],
)
def test_a_body_that_has_stood_nearly_all_that_it_can_come_to_is_let(monkeypatch, low, change, let):
    """Where at most three such bodies in a hundred would open, however long it runs."""
    end = WATTS ** (1.0 / 1.3)
    if not change:
        assert (risk(MIDDLE, low, end) <= 0.03) is let
    said, _ = judged(monkeypatch, low, kept=RUNS, warmth=100.0, opens=1.0, **change)
    assert said == (good("pacing") if let else HELD)


def test_after_an_opening_no_body_is_let_for_what_it_stood(monkeypatch):
    """It has opened, so it may again."""
    said, _ = judged(monkeypatch, 200.0, (0.0, 400.0), kept=RUNS, warmth=100.0, opens=1.0)
    assert said == HELD


FELL = {"kept": RUNS, "fell_at": NOW, "warmth": 0.0}
SETTINGS = "settings_watts = [300, 600]"
NO_MORE = {"ev": [one for n in range(5) for one in (300 * n, NOTHING)]}
MAY_TELL = {"ev": [0, NOTHING, 300, FLOWS]}


def looked_into(log=None, tries=1) -> dict:
    """Notes of a heater of which it is being found out what interrupts it."""
    return {"notes": {"cut-out": {"log": log} if log else {}, "covered": {"tries": tries}}}


@pytest.mark.parametrize(
    ("tail", "full", "heater", "more", "rests"),
    [
        ([0.0], 600.0, SETTINGS, {}, False),  # a cut-out would have left the low element: it was the dial
        ([300.0, 18.0], 600.0, SETTINGS, {}, False),
        ([300.0, 18.1], 600.0, SETTINGS, {}, True),
        ([0.0, 300.0], 600.0, SETTINGS, {}, True),
        ([], 600.0, SETTINGS, {}, True),
        ([0.0], 450.0, SETTINGS, {}, True),
        ([0.0], 600.0, "", {}, True),
        ([0.0], 600.0, "", looked_into(MAY_TELL), False),
        ([0.0], 600.0, "", looked_into(NO_MORE), True),
        ([0.0], 600.0, "", looked_into(MAY_TELL, tries=0), True),
        ([0.0], 600.0, "", looked_into(), True),
        ([300.0], 600.0, "", looked_into(MAY_TELL), True),
    ],
)
def test_power_that_fell_on_a_slow_meter_rests_it_at_once_unless_that_hides_what_it_was(
    monkeypatch, tail, full, heater, more, rests
):
    """A slow meter has looked long enough; a dial shows in a run that goes on."""
    said, _ = judged(monkeypatch, **FELL | {"kept": RUNS | more}, tail=tail, full_watts=full, heater=heater)
    assert said == (HELD if rests else good("pacing"))


@pytest.mark.parametrize(
    ("count", "ran", "rests"), [(5, 1500.0, True), (4, 1500.0, False), (5, 1499.0, False), (9, 4000.0, True)]
)
def test_nothing_five_times_in_one_run_is_rested_so_that_the_next_keeps_no_step_with_a_dial(
    monkeypatch, count, ran, rests
):
    """A dial's beat may be that of the reports, and then none of them shows its power."""
    kept = RUNS | {"on_since": NOW - ran, "notes": {"drawing-nothing": {"nothing_count": count}}}
    said, _ = judged(monkeypatch, **FELL | {"kept": kept}, tail=[0.0], full_watts=600.0, heater=SETTINGS)
    assert said == (HELD if rests else good("pacing"))


def test_a_quick_meter_looks_at_nothing_as_at_any_other_fall(monkeypatch):
    """Ninety seconds, even where a cut-out would leave an element."""
    quick = RUNS | {"meter_period": 10.0}
    change = {"heater": SETTINGS, "tail": [0.0], "full_watts": 600.0}
    assert judged(monkeypatch, kept=quick, fell_at=NOW - 89.0, **change)[0] == good("pacing")
    assert judged(monkeypatch, kept=quick, fell_at=NOW - 90.0, **change)[0] == HELD


@pytest.mark.parametrize(
    ("told_ago", "soon"),
    [
        (230.0, True),
        (240.0, True),
        (241.0, False),
        (220.0, True),
        (219.0, False),
        (530.0, True),
        (100.0, False),
        (None, False),
    ],
)
@pytest.mark.parametrize("why", ["opened", "looked into"])
def test_what_may_be_open_still_starts_only_just_before_a_report(monkeypatch, told_ago, soon, why):
    """One that comes a minute after the start, and two ticks later at most; a report that never came is far."""
    kept = RESTS | {"watts_at": None if told_ago is None else NOW - told_ago}
    if why == "opened":
        said, _ = judged(monkeypatch, kept=kept, opened=True)
    else:
        said, body = judged(
            monkeypatch, kept=kept | looked_into(MAY_TELL), opens=900.0, warmth=99.0, trial=True
        )
        assert body.trial is False
    assert said == (good("pacing") if soon else HELD)


@pytest.mark.parametrize(
    ("told_ago", "turns"),
    [
        (240.0, [0, 2]),
        (220.0, [0]),
        (219.0, []),
        (140.0, [1]),
        (40.0, [1, 2]),
        (39.0, [2]),
        (241.0, [2]),
        (239.0, [0]),
    ],
)
def test_runs_that_look_into_it_begin_in_turn_a_third_of_a_period_sooner(monkeypatch, told_ago, turns):
    """A dial's beat may be the reports' own: from another place in it they show what they missed."""
    for runs in range(6):
        kept = RESTS | {"watts_at": NOW - told_ago} | looked_into({"ev": [0.0, ON] * runs})
        said, _ = judged(monkeypatch, kept=kept, opens=900.0, warmth=99.0)
        assert said == (good("pacing") if runs % 3 in turns else HELD), runs


@pytest.mark.parametrize(
    ("opens", "warmth", "let"), [(900.0, 99.0, True), (100.0, 99.0, False), (100.0, 1.0, True)]
)
def test_what_is_looked_into_starts_cool_enough_to_run_to_a_second_report(monkeypatch, opens, warmth, let):
    """The first one shows only that it closed; a cold one starts, however little it is held to stand."""
    kept = RESTS | {"watts_at": NOW - 230.0} | looked_into(MAY_TELL)
    said, _ = judged(monkeypatch, kept=kept, opens=opens, warmth=warmth)
    assert said == (good("pacing") if let else HELD)


@pytest.mark.parametrize(
    "change",
    [
        {"meter_period": 10.0},
        {"notes": {"cut-out": {}, "covered": {"tries": 1}}},
        {"notes": {"cut-out": {"log": MAY_TELL}}},
    ],
)
def test_without_a_log_a_suspicion_or_a_slow_meter_nothing_is_looked_into(monkeypatch, change):
    """A hot body waits then, whenever the next report comes."""
    kept = RESTS | looked_into(MAY_TELL) | {"watts_at": NOW - 230.0} | change
    assert judged(monkeypatch, kept=kept, opens=1.0, warmth=99.0)[0] == HELD


@pytest.mark.parametrize(
    ("warmth", "change", "held"),
    [
        (0.61, {}, True),
        (0.59, {}, False),
        (0.61, {"opened": False}, False),
        (0.31, {"cool_share": 0.3}, True),
        (0.29, {"cool_share": 0.3}, False),
        (0.71, {"cool_share": 0.7, "opened": False}, True),
        (0.69, {"cool_share": 0.7, "opened": False}, False),
        (0.69, {"cool_share": 0.7, "wide": False}, False),
        (0.71, {"cool_share": 0.7, "wide": False}, True),
    ],
)
def test_one_that_opened_cools_until_it_has_surely_closed(monkeypatch, warmth, change, held):
    """To 60 % of the warmth at which it opens, or to its own share; where reports are close its own share is enough."""
    body = {"opened": True} | change
    kept = RESTS | {"watts_at": NOW - 230.0, "meter_period": 10.0 if "wide" in change else 300.0}
    said, _ = judged(
        monkeypatch,
        400.0,
        (0.0, 410.0),
        (0.0, 420.0),
        kept=kept,
        warmth=100.0 * warmth,
        opens=100.0,
        heater='min_on = "1 s"',
        **body,
    )
    assert said == (HELD if held else good("pacing"))
