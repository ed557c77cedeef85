"""Runs that go a little further than was stood: when one may begin, and when it ends, by closed forms (derived)."""

from math import exp, log

import pytest

from tests.core.body.bodies import MIDDLE, reached, risk
from tests.core.guard.cases import NOW, good
from tests.core.guard.far import HELD, RESTS, RUNS, WARM, WATTS, judged, rested, share_in


def step(
    monkeypatch,
    over,
    *,
    first=400.0,
    late=0,
    u=None,
    air=20.0,
    warmth=0.0,
    watts=WATTS,
    period=300.0,
    **change,
):
    """Whether a run is a step that passes what was stood by `over` at the report number `late` after the first.

    The first report that counts comes `first` seconds after now. `u` is what was stood as a share of the usual.
    """
    share = share_in(air)
    end = reached(MIDDLE, watts, first + late * period, warmth) / share
    low = end / exp(over)
    kept = RESTS | {"meter_period": period, "watts_at": NOW + first - 2 * period}
    if u is not None:
        change["usual_opens"] = low / u
    said, body = judged(monkeypatch, low, kept=kept, air=air, warmth=warmth, **change)
    return said, body.trial


LET = (good("pacing"), True)


@pytest.mark.parametrize(("over", "expected"), [(0.0101, True), (0.0099, False)])
@pytest.mark.parametrize("late", [0, 1, 5])
def test_a_step_goes_a_hundredth_further_than_was_stood_by_one_of_six_reports(
    monkeypatch, over, expected, late
):
    """The first at which it would; it starts at the last tick at which it would."""
    assert step(monkeypatch, over, first=310.0, late=late, u=1.0) == (good("pacing"), expected)


def test_a_run_to_a_seventh_report_is_no_step(monkeypatch):
    """Half an hour is enough to look ahead."""
    assert step(monkeypatch, 0.0101, first=310.0, late=6)[1] is False
    assert step(monkeypatch, 0.2, first=310.0, late=6)[1] is False


@pytest.mark.parametrize(
    ("dared", "over", "expected"), [(0.04, 0.0501, True), (0.04, 0.0499, False), (0.1, 0.1101, True)]
)
def test_the_next_step_goes_further_than_the_last_one_did_after_its_report(
    monkeypatch, dared, over, expected
):
    """By a hundredth."""
    assert step(monkeypatch, over, first=310.0, late=5, dared=dared)[1] is expected


@pytest.mark.parametrize(("u", "expected"), [(0.55, True), (0.6, False)])
def test_a_longer_step_is_dared_where_it_hardly_risks_to_open_it(monkeypatch, u, expected):
    """At three in a hundred such bodies: a fifth further than was stood."""
    low, over = 100.0 * u, 1.2
    assert (risk(MIDDLE, low, low * over) <= 0.03) is expected
    said, trial = step(monkeypatch, log(over), u=u)
    assert trial is expected
    assert said == good("pacing")  # a cold body waits for nothing


@pytest.mark.parametrize(
    ("first", "over", "expected"),
    [(309.0, 0.049, True), (309.0, 0.051, False), (310.0, 0.049, False), (301.0, 0.03, True)],
)
def test_a_report_just_after_the_shortest_run_may_go_a_twentieth_further(monkeypatch, first, over, expected):
    """A tick later it would come too soon to prove anything."""
    assert step(monkeypatch, over, first=first, u=1.0)[1] is expected


@pytest.mark.parametrize(("first", "expected"), [(409.0, True), (410.0, False)])
def test_the_shortest_run_that_proves_something_is_a_reports_period_where_that_is_longer(
    monkeypatch, first, expected
):
    """400 s where reports come each 400 s."""
    assert step(monkeypatch, 0.049, first=first, u=1.0, period=400.0)[1] is expected


@pytest.mark.parametrize("warmth", [0.0, 20.0])
@pytest.mark.parametrize(("beyond", "expected"), [(0.9999, True), (1.0001, False)])
def test_a_step_starts_at_the_last_tick_at_which_it_would_still_go_far_enough(
    monkeypatch, warmth, beyond, expected
):
    """A tick later the body has cooled for it, and its run is a tick shorter."""
    first = 400.0
    later_end = reached(MIDDLE, WATTS, first - 10.0, rested(warmth, 10.0))
    low = later_end / beyond / exp(0.01)
    kept = RESTS | {"watts_at": NOW + first - 600.0}
    _, body = judged(monkeypatch, low, kept=kept, warmth=warmth, usual_opens=low)
    assert body.trial is expected


def test_a_warm_room_makes_a_step_of_a_shorter_run(monkeypatch):
    """What was stood was stood in a room of 20 °C."""
    assert step(monkeypatch, 0.0101, first=310.0, air=WARM) == LET
    assert step(monkeypatch, 0.0099, first=310.0, air=WARM)[1] is False
    assert step(monkeypatch, 0.2, u=0.55, air=WARM) == LET
    assert step(monkeypatch, 0.2, u=0.7, air=WARM)[1] is False


def test_a_report_that_never_came_is_taken_to_come_a_period_after_the_shortest_run(monkeypatch):
    """600 s from now, where both are 300 s."""
    end = reached(MIDDLE, WATTS, 600.0)
    kept = RESTS | {"watts_at": None}
    assert judged(monkeypatch, end / exp(0.0101), kept=kept)[1].trial is True
    assert judged(monkeypatch, end / exp(0.0099), kept=kept, usual_opens=end)[1].trial is False


@pytest.mark.parametrize(
    "change", [{"opened": True}, {"weights_known": False}, {"openings": [(0.0, 130.0)] * 2}, {"wide": False}]
)
def test_no_step_is_dared_that_is_not_sought(monkeypatch, change):
    """Of one that is open, after two openings, or where reports are close."""
    end = reached(MIDDLE, WATTS, 310.0)
    kept = RESTS | {"watts_at": NOW - 290.0}
    body = {name: one for name, one in change.items() if name in ("opened", "wide")}
    if "weights_known" in change:
        body["weights"] = []
    _, known = judged(monkeypatch, end / exp(0.0101), *change.get("openings", []), kept=kept, **body)
    assert known.trial is False


@pytest.mark.parametrize(("warmth", "held"), [(0.081, True), (0.079, False)])
def test_a_body_that_could_step_from_cold_waits_until_it_is_cold(monkeypatch, warmth, held):
    """Under 8 % of the opening warmth; a step of its own comes first."""
    low = reached(MIDDLE, WATTS, 1800.0) / exp(0.0101)
    opens = low * 2.0
    said, body = judged(monkeypatch, low, warmth=warmth * opens, opens=opens, usual_opens=low, dared=0.0)
    assert body.trial is False
    assert said == (HELD if held else good("pacing"))


@pytest.mark.parametrize(("over", "held"), [(0.0101, True), (0.0099, False)])
@pytest.mark.parametrize("air", [20.0, WARM])
def test_what_no_run_from_cold_would_pass_is_not_waited_for(monkeypatch, over, held, air):
    """A shortest run and five reports more, 1800 s, from the cold of a day's rest; else it runs by its limit."""
    share = share_in(air)
    low = reached(MIDDLE, WATTS, 1800.0, rested(300.0, 86400.0)) / share / exp(over)
    kept = RESTS | {"watts_at": NOW - 190.0}
    said, body = judged(monkeypatch, low, kept=kept, warmth=300.0, opens=1000.0, air=air, usual_opens=low)
    assert body.trial is False
    assert said == (HELD if held else good("pacing"))


def ends(
    monkeypatch,
    over,
    *,
    told_ago=150.0,
    period=200.0,
    on_ago=4000.0,
    u=1.0,
    air=20.0,
    told=True,
    watts=WATTS,
    **change,
):
    """Whether a step's run ends that would pass what was stood by `over` at its next report, or by the next tick.

    Gives that, and what the next step is to go beyond.
    """
    seconds = period - told_ago if told else 10.0
    share = share_in(air)
    low = reached(MIDDLE, max(watts, 1.0), seconds, 80.0) / share / exp(over)
    kept = RUNS | {"meter_period": period, "watts_at": NOW - told_ago, "on_since": NOW - on_ago}
    body = {"trial": True, "warmth": 80.0, "usual_opens": low / u, "watts": watts, "opens": 1.0} | change
    said, known = judged(monkeypatch, low, kept=kept | body.pop("kept", {}), air=air, **body)
    return said == HELD, known.dared


@pytest.mark.parametrize(
    ("dared", "over", "expected"),
    [
        (0.0, 0.101, True),
        (0.0, 0.099, False),
        (0.03, 0.101, True),
        (0.1, 0.161, True),
        (0.1, 0.159, False),
    ],
)
def test_a_step_ends_after_its_report_where_the_next_one_lies_too_far(monkeypatch, dared, over, expected):
    """A twentieth further than it may go, and a twentieth for a report that comes late."""
    assert ends(monkeypatch, over, dared=dared)[0] is expected


@pytest.mark.parametrize(("u", "expected"), [(0.6, False), (0.61, True)])
def test_a_step_goes_on_while_it_hardly_risks_to_open_it(monkeypatch, u, expected):
    """Half as much again as a step may begin with: 4.5 in a hundred, so that the mains' drift does not end it."""
    assert (risk(MIDDLE, 100.0 * u, 120.0 * u) > 0.045) is expected
    assert ends(monkeypatch, log(1.2), u=u)[0] is expected


def test_a_step_that_ended_after_its_report_is_to_be_passed_by_the_next(monkeypatch):
    """By what it comes to until a late report, eight seconds; without a report nothing new was shown."""
    low = reached(MIDDLE, WATTS, 50.0, 80.0) / exp(0.2)
    late = reached(MIDDLE, WATTS, 8.0, 80.0) / low
    assert ends(monkeypatch, 0.2) == (True, pytest.approx(log(late), abs=6e-4))
    assert ends(monkeypatch, 0.2)[1] == round(ends(monkeypatch, 0.2)[1], 3)
    assert ends(monkeypatch, 0.2, told=False, on_ago=449.0, dared=0.02) == (True, 0.02)
    assert ends(monkeypatch, 0.09, dared=0.02) == (False, 0.02)


@pytest.mark.parametrize(
    ("told_ago", "on_ago", "period", "told"),
    [
        (150.0, 450.0, 200.0, True),
        (150.0, 449.0, 200.0, False),  # the report came a second before the shortest run was over
        (150.0, 550.0, 400.0, True),
        (150.0, 549.0, 400.0, False),
    ],
)
def test_a_steps_report_is_one_that_came_after_the_shortest_run_that_proves_something(
    monkeypatch, told_ago, on_ago, period, told
):
    """Until then the next tick is looked at, and after it the next report."""
    low = reached(MIDDLE, WATTS, period - told_ago, 80.0) / exp(0.11)
    assert reached(MIDDLE, WATTS, 10.0, 80.0) / low < exp(0.09)
    assert ends(monkeypatch, 0.11, told_ago=told_ago, on_ago=on_ago, period=period)[0] is told


@pytest.mark.parametrize("kept", [{"watts_at": None}, {"on_since": None}])
def test_without_a_report_or_a_start_a_step_is_looked_at_tick_by_tick(monkeypatch, kept):
    """It ends where the next tick would pass it, and not before."""
    assert ends(monkeypatch, 0.101, told=False, kept=kept)[0] is True
    assert ends(monkeypatch, 0.099, told=False, kept=kept)[0] is False


@pytest.mark.parametrize(
    ("told_ago", "next_in"), [(0.0, 200.0), (199.0, 1.0), (199.5, 200.5), (200.0, 200.0)]
)
def test_the_next_report_is_due_a_second_from_now_at_the_soonest(monkeypatch, told_ago, next_in):
    """A period after the last, or after the one that is due just now."""
    for over, expected in ((0.101, True), (0.099, False)):
        low = reached(MIDDLE, WATTS, next_in, 80.0) / exp(over)
        kept = RUNS | {"meter_period": 200.0, "watts_at": NOW - told_ago}
        body = {"trial": True, "warmth": 80.0, "usual_opens": low, "opens": 1.0}
        assert (judged(monkeypatch, low, kept=kept, **body)[0] == HELD) is expected


def test_a_step_is_judged_by_the_power_of_now_and_the_rooms_air(monkeypatch):
    """One watt at least, and what the room leaves of the opening warmth."""
    for change in ({"watts": 0.0}, {"watts": 300.0}, {"air": WARM}):
        assert ends(monkeypatch, 0.101, **change)[0] is True
        assert ends(monkeypatch, 0.09995, **change)[0] is False


def test_a_trial_on_a_close_meter_has_no_steps(monkeypatch):
    """It goes on until it opens."""
    assert ends(monkeypatch, 0.5, wide=False)[0] is False
    assert ends(monkeypatch, 0.5)[0] is True


def test_a_step_is_no_shorter_than_a_shortest_run_from_cold_that_fits(monkeypatch):
    """Within five minutes nothing ends it, where such a run fits."""
    change = {"told": False, "opens": 1000.0}
    assert ends(monkeypatch, 0.5, on_ago=299.0, **change)[0] is False
    assert ends(monkeypatch, 0.5, on_ago=300.0, **change)[0] is True
