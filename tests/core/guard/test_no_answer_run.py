"""What is gathered in a run of heat, a step at a time: joules, peak, low and lift, and where a run ends. Invented."""

from copy import deepcopy
from dataclasses import replace

import pytest

from tests.core.guard.cases import NOW, good
from tests.core.guard.rooms import CODE, RESTS, line, scene
from thermostatd.core.guard import no_answer
from thermostatd.core.guard.no_answer import answering

RUN = {
    "since": NOW - 1800.0,
    "celsius": 20.0,
    "peak": 20.0,
    "slope": 0.0,
    "joules": 1_000_000.0,
    "lifted": False,
    "heat_at": NOW - 10.0,
}
NEW = {"since": NOW, "celsius": 20.0, "peak": 20.0, "slope": 0.0, "joules": 0.0, "lifted": False}
METERED = {"meter_period": 60.0, "watts_at": NOW - 10.0}


def stepped(notes=None, **change) -> dict:
    """The notes after one step in which nothing is asked."""
    case = scene(notes, **change)
    assert no_answer.judge(case) == good(CODE)
    return case.kept.notes[CODE]


def went_on(run=None, **change) -> dict:
    """The run after one step."""
    return stepped({"run": {k: v for k, v in (RUN | (run or {})).items() if v is not None}}, **change).get(
        "run"
    )


@pytest.mark.parametrize(
    ("change", "begins"),
    [
        ({}, True),
        (RESTS, False),
        (METERED | {"watts": 18.0}, False),  # 3 % of its 600 W count as nothing
        (METERED | {"watts": 18.1}, True),
        (
            METERED | {"watts": 0.0, "watts_at": NOW - 3541.0},
            True,
        ),  # too soon after the switching to prove anything
        (METERED | {"watts": 0.0, "watts_at": NOW - 3540.0}, False),
    ],
)
def test_a_run_begins_with_heat(change, begins):
    """Told ON, and the meter does not prove that nothing flows."""
    assert stepped(**change).get("run") == (NEW if begins else None)


@pytest.mark.parametrize(
    ("trail", "slope"),
    [
        (line(20.0, -0.6, since=2400.0), -0.6),
        (line(20.0, 0.6, since=2400.0), 0.0),
        ([(NOW - 2401.0, 99.0), *line(20.0, -0.6, since=2400.0)], -0.6),
        (line(20.0, -0.6, since=300.0), 0.0),  # two points tell nothing
    ],
)
def test_a_run_remembers_how_fast_the_air_fell_as_it_began(trail, slope):
    """Over the last forty minutes; a rise is not counted, since it may be the heater's own."""
    assert stepped(trail=trail)["run"]["slope"] == pytest.approx(slope)


@pytest.mark.parametrize(
    ("run", "stays"),
    [
        ({"heat_at": NOW - 1799.0}, True),
        ({"heat_at": NOW - 1800.0}, False),
        ({"heat_at": None, "since": NOW - 1799.0}, True),
        ({"heat_at": None, "since": NOW - 1800.0}, False),
    ],
)
@pytest.mark.parametrize("change", [{}, RESTS])
def test_a_run_ends_half_an_hour_after_its_last_heat(run, stays, change):
    """On or off; one in which no heat was seen yet counts from its start."""
    assert (went_on(run, **change) is not None) is stays


@pytest.mark.parametrize(
    ("change", "stays"),
    [
        ({}, True),
        ({"wanted": False}, False),
        ({"wanted": False, "air": 19.69}, True),
        ({"wanted": False, "air": 19.71}, False),
        ({"wanted": False, "air": 19.0, "target": None}, False),
        ({"more_notes": {"circuit": {"waited": 0.0}}}, True),
        ({"more_notes": {"circuit": {"waited": 0.5}}}, False),
    ],
)
@pytest.mark.parametrize("rests", [RESTS, METERED | {"watts": 0.0}])
def test_a_pause_belongs_to_a_run_where_heat_is_wanted(change, stays, rests):
    """Or lacking by 0.3 K, whatever the pace makes of it; not where it waits for others on its circuit."""
    assert (went_on(**rests | change) is not None) is stays


@pytest.mark.parametrize(
    ("change", "joules"),
    [
        ({}, 6000.0),
        ({"seconds": 60.0}, 36_000.0),
        ({"seconds": 700.0}, 360_000.0),  # a gap counts ten minutes
        (METERED | {"watts": 500.0}, 5000.0),
        (METERED | {"watts": 0.0}, 0.0),
        (METERED | {"watts": 500.0, "watts_at": NOW - 3590.0}, 6000.0),
        (RESTS, 0.0),
    ],
)
def test_a_run_adds_up_its_heat(change, joules):
    """As metered, else as sold; a pause adds nothing."""
    assert went_on(**change)["joules"] == 1_000_000.0 + joules


@pytest.mark.parametrize(
    ("change", "heat_at"),
    [
        ({}, NOW),
        (RESTS, NOW - 500.0),
        (METERED | {"watts": 500.0}, NOW),
        (METERED | {"watts": 500.0, "watts_at": NOW - 3580.0}, NOW),  # twenty seconds after it came on
        (METERED | {"watts": 500.0, "watts_at": NOW - 3581.0}, NOW - 500.0),
        (METERED | {"watts": 18.0}, NOW - 500.0),
        (METERED | {"watts": 18.1}, NOW),
        ({"watts": 500.0, "watts_at": None}, NOW - 500.0),
        ({"watts": None, "watts_at": NOW}, NOW),
        (RESTS | METERED | {"watts": 500.0}, NOW - 500.0),
        (RESTS | METERED | {"watts": 500.0, "watts_at": None}, NOW - 500.0),
    ],
)
def test_heat_is_proven_by_a_meter_or_where_there_is_none_by_the_order(change, heat_at):
    """Early in a run a meter proves it, and never the contrary."""
    assert went_on({"heat_at": NOW - 500.0}, **change)["heat_at"] == heat_at


@pytest.mark.parametrize(
    ("run", "air", "seconds", "peak"),
    [
        ({"peak": 20.5}, 20.0, 600.0, 20.45833),
        ({"peak": 20.5}, 20.0, 900.0, 20.45833),
        ({"peak": 20.5}, 20.0, 36.0, 20.4975),
        ({"peak": 20.5}, 20.49, 600.0, 20.49),
        ({"peak": 20.5}, 20.6, 10.0, 20.6),
        ({"peak": None}, 20.0, 10.0, 20.0),
    ],
)
def test_a_runs_peak_is_forgiven_a_quarter_of_a_kelvin_an_hour(run, air, seconds, peak):
    """What a night takes slowly is no fall; a gap forgives ten minutes."""
    assert went_on(run, air=air, seconds=seconds)["peak"] == peak


@pytest.mark.parametrize(("low", "expected"), [(19.5, 19.5), (20.5, 20.0), (None, 20.0)])
def test_a_runs_low_is_its_coldest_air(low, expected):
    """A cold heater's air falls a while before it rises."""
    assert went_on({"low": low})["low"] == expected


HALF_KW = {
    "joules": 500.0 * 3600.0 - 6000.0
}  # with this step 500 W over an hour: a bound of a quarter of a kelvin


@pytest.mark.parametrize(
    ("run", "air", "lifted"),
    [
        (HALF_KW, 20.25, True),
        (HALF_KW, 20.24, False),
        (HALF_KW | {"low": 19.75}, 20.0, True),
        (HALF_KW | {"low": 19.76}, 20.0, False),
        (HALF_KW | {"slope": -0.5}, 20.0, True),  # half an hour later the air would have been 19.75°
        (HALF_KW | {"slope": -0.48}, 20.0, False),
        (HALF_KW | {"since": NOW - 7200.0, "joules": 500.0 * 7200.0 - 6000.0}, 20.25, True),
        (HALF_KW | {"since": NOW - 7200.0, "joules": 500.0 * 7200.0 - 6000.0}, 20.24, False),
        ({"joules": 0.0}, 20.16, True),  # never less than 0.15 K
        ({"joules": 0.0}, 20.14, False),
        ({"lifted": True}, 19.0, True),
    ],
)
def test_a_run_has_lifted_the_air_once_it_stands_over_where_it_was_going(run, air, lifted):
    """By 0.3 K for an hour of 600 W, in proportion to the mean power; once is enough."""
    beside_an_open_window = {"since": NOW}  # where nothing is asked
    assert went_on(run, air=air, window=beside_an_open_window)["lifted"] is lifted


@pytest.mark.parametrize(
    ("ago", "lifted", "stays"),
    [(14400.0, False, False), (14399.0, False, True), (14400.0, True, True), (20000.0, False, False)],
)
def test_a_run_of_four_hours_that_lifted_nothing_is_judged_anew(ago, lifted, stays):
    """From where the air is by now."""
    run = went_on({"since": NOW - ago, "lifted": lifted}, **RESTS)
    assert (run is not None) is stays


def test_a_run_of_four_hours_that_lifted_goes_on_from_where_the_air_is():
    """Its lift and its peak count on; its heat, its low and its beginning are those of a new one."""
    run = went_on({"since": NOW - 14400.0, "lifted": True, "peak": 21.0, "low": 17.0, "celsius": 18.0}, seconds=0.0)
    assert run == NEW | {"lifted": True, "peak": 21.0, "heat_at": NOW}


def test_a_run_of_four_hours_that_lifted_nothing_asks_nothing():
    """It is dropped before it could."""
    assert went_on({"since": NOW - 14400.0, "joules": 600.0 * 14400.0}) is None


def cycles(slope: float, *, changed: float = NOW - 100.0, **more) -> dict:
    """What ordinary switchings told: a heater that is on adds `slope` K/h, told by forty samples without an error."""
    sums = [40.0, 0.4, 0.4 * slope, 0.4 * slope * slope]
    kept = {"begun": NOW - 9e4, "at": NOW - 10.0, "heats": True, "heat": [1.0, 0.0, 0.0], "air": [20.0, 0.0]}
    return kept | {"sums": sums, "changed": changed} | more


@pytest.mark.parametrize(
    ("watts", "slope", "answered"),
    [
        (600, 0.46, True),
        (600, 0.44, False),
        (1200, 0.91, True),
        (1200, 0.89, False),
        (200, 0.23, True),
        (200, 0.22, False),
    ],
)
def test_ordinary_switchings_answer_by_one_and_a_half_bounds_an_hour(watts, slope, answered):
    """0.45 K/h for 600 W, in proportion, and never under 0.225 K/h."""
    case = scene({"cycles": cycles(slope), "failed": 1})
    case = replace(case, heater=case.heater.model_copy(update={"watts": watts}))
    no_answer.judge(case)
    notes = case.kept.notes[CODE]
    assert (notes["failed"], notes.get("answered_at")) == ((0, NOW) if answered else (1, None))


def test_a_switching_of_long_ago_answers_nothing():
    """An hour later what was seen is old."""
    assert "answered_at" not in stepped({"cycles": cycles(2.0, changed=NOW - 3601.0)})


@pytest.mark.parametrize(("change", "heats"), [({}, True), (RESTS, False), (METERED | {"watts": 0.0}, False)])
def test_ordinary_switchings_are_watched_in_each_step(change, heats):
    """The air, whether there was heat, and the seconds of this step, just as they are."""
    before = {"cycles": cycles(0.0, at=NOW - 300.0)}
    expected = deepcopy(before)
    answering.watch(expected, 20.125, heats, NOW, 10.0)
    assert stepped(before, air=20.125, **change)["cycles"] == expected["cycles"]
    assert stepped({}, air=20.125, **change)["cycles"]["begun"] == NOW
