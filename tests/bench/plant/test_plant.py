"""The bench's own plant tells the truth: energy balances, devices behave as written, and figures are what they say.

Runs of the engine here are of one or two days; the table itself is for the night.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from random import Random

import numpy as np
import pytest

from tests.bench.plant import matrix, picture
from tests.bench.plant.devices import Heater, Sensor
from tests.bench.plant.engine import EngineError, simulate, weather_file
from tests.bench.plant.faults import TROUBLES, knobs
from tests.bench.plant.goals import Point, runaways
from tests.bench.plant.houses import BUILDINGS, LIGHT, SOLID
from tests.bench.plant.programme import PROGRAMMES, Rise, changes, house_tables, rises
from tests.bench.plant.run import Run, Spec, foretold_of, simulate_here
from tests.bench.plant.score import (
    NEVER,
    arrived,
    brought,
    excess,
    full_power_climb,
    full_power_minutes,
    switches_a_day,
)
from tests.bench.plant.trace import Trace
from thermostatd.core.house import House

FEBRUARY = date(2026, 2, 2)
WHO = "light", "newark"


class Steady:
    """The same watts to every room, all the time."""

    def __init__(self, watts: float) -> None:
        self.watts, self.air = watts, []

    def open_window_changes(self):
        return [None] * 3

    def minute(self, air, outdoor, warming):
        if not warming:
            self.air.append(list(air))
        return [(self.watts, 0.0)] * 3


@pytest.fixture(scope="module")
def ideal_day():
    """One day of the ideal, in this process."""
    return simulate_here(Spec(*WHO, law="ideal", days=1))


def flat(celsius, minutes=600):
    """A trace of three rooms at one temperature, nothing on."""
    shape = (minutes, 3)
    return Trace(
        np.full(shape, celsius),
        np.zeros(minutes),
        np.full(shape, 20.0),
        np.zeros(shape, bool),
        np.zeros(shape),
    )


def test_the_ideal_holds_its_target(ideal_day):
    """With power to spare, the ideal's true air is within 0.02 K of the target."""
    air, watts = ideal_day.trace.air[240:], ideal_day.trace.watts[240:]
    held = (watts > 0) & (watts < 649.0)
    assert held.mean() > 0.8
    assert np.abs(air - 20.0)[held].max() < 0.02


def test_a_regulated_day_is_heated_for_about_what_the_ideal_takes(ideal_day):
    """Hysteresis ends the same day within 10 % of the ideal's energy, and stays within 1.5 K of its target."""
    run = simulate_here(Spec(*WHO, law="hysteresis", days=1))
    late = slice(240, None)
    assert run.trace.watts[late].sum() == pytest.approx(ideal_day.trace.watts[late].sum(), rel=0.1)
    assert np.abs(run.trace.air[late] - 20.0).max() < 1.5
    assert switches_a_day(run.trace).min() > 4


def test_what_is_foretold_is_the_weather_that_the_engine_plays(ideal_day):
    """Hour for hour of the first day, to the tenth; the engine takes its own first hour from its warm-up."""
    told = foretold_of("newark").news(0.0)
    assert list(told[1:24]) == pytest.approx(list(ideal_day.trace.outdoor[60::60]), abs=0.1)
    assert max(told) - min(told) > 3.0
    assert (knobs("forecast").forecast, knobs("").forecast) == (True, False)
    tables = house_tables(LIGHT, "weekly", "predictive", {}, forecast=True)
    assert House.model_validate(tables).house.forecast.topic == "hours"


def test_heat_ends_up_in_the_room():
    """100 W more in each room for a day warms the light house's air by what its own losses allow: 4 to 9 K."""
    colder, warmer = Steady(300.0), Steady(400.0)
    for driver in (colder, warmer):
        simulate(LIGHT, weather_file("newark"), FEBRUARY, 1, driver)
    lift = np.mean(warmer.air[-1]) - np.mean(colder.air[-1])
    assert 4.0 < lift < 9.0


def test_a_drivers_error_ends_the_run_as_itself():
    """What goes wrong in a driver is raised to the caller, not lost in the engine."""

    class Broken(Steady):
        def minute(self, air, outdoor, warming):
            raise ZeroDivisionError("on purpose")

    with pytest.raises(ZeroDivisionError, match="on purpose"):
        simulate(SOLID, weather_file("golden"), FEBRUARY, 1, Broken(0.0))


def test_an_unknown_weather_names_those_there_are():
    """The error lists the package's places."""
    with pytest.raises(EngineError, match="Newark"):
        weather_file("Atlantis")


def test_a_heater_sheds_later_what_it_drew():
    """All that was drawn is shed in the end, 35 % of it to surfaces; after one store time 63 % of full power is."""
    heater = Heater(LIGHT.cells[0], Random(1))
    heater.tell(True)
    shed, at_store_time = 0.0, 0.0
    for minute in range(600):
        if minute == 60:
            heater.tell(False)
        air, surfaces = heater.minute(minute * 60.0)
        assert surfaces == pytest.approx(0.35 / 0.65 * air)
        shed += 60.0 * (air + surfaces)
        if minute == 17:
            at_store_time = heater.store_watts
    assert shed == pytest.approx(heater.joules, rel=1e-6)
    assert at_store_time == pytest.approx(650.0 * 0.632, rel=0.05)
    assert heater.switchings == 2


def test_a_sensor_lags_and_speaks_in_steps():
    """After its own lag it has gone 63 % of the way; values are tenths; it is silent between its periods."""
    sensor = Sensor(420.0, Random(1), celsius=15.0, noise_kelvin=0.0, period_seconds=300.0)
    for _ in range(7):
        sensor.minute(20.0)
    assert sensor.celsius == pytest.approx(15.0 + 5.0 * 0.632, abs=0.01)
    assert sensor.told(300.0) == 18.2
    assert sensor.told(360.0) is None


def test_programmes_are_houses_and_their_rises_are_known():
    """Every programme makes a valid house; the weekly one has over five rises a day, with the right sizes."""
    for building in BUILDINGS.values():
        for name in PROGRAMMES:
            for law in ("hysteresis", "proportional", "predictive"):
                House.model_validate(house_tables(building, name, law, {}))
    House.model_validate(house_tables(LIGHT, "constant", "predictive", {}, outdoor=False, meter=False))
    parlour = rises(PROGRAMMES["weekly"][0], 7)
    assert (parlour[0].at, parlour[0].before, parlour[0].celsius) == (6.5 * 3600, 17.5, 20.5)
    assert [len(rises(steps, 7)) for steps in PROGRAMMES["weekly"]] == [12, 12, 14]
    assert changes(PROGRAMMES["constant"][0], 3) == [(0.0, 20.0)]


def test_figures_of_a_trace_made_by_hand():
    """Excess is the RMS distance, a switching is counted each way, arrival is the first minute within 0.2 K."""
    run, ideal = flat(19.0), flat(20.0)
    run.on[100:200] = True
    assert excess(run, ideal) == pytest.approx([1.0] * 3)
    assert switches_a_day(run) == pytest.approx([2 * 1440 / 600] * 3)
    rise = Rise(400 * 60.0, 19.0, 21.0, 600 * 60.0)
    run.air[410:, 0], run.air[500:, 1] = 20.81, 21.5
    assert arrived(run.air, rise, 0) == 410
    assert arrived(run.air, rise, 1) == 500
    assert arrived(run.air, rise, 2) == 400 + 360
    assert full_power_minutes(run, rise, 0) == NEVER
    run.air[399, 2] = 21.0
    assert full_power_minutes(run, rise, 2) == 359
    run.air[100:140, 2] = 20.9
    assert arrived(run.air, rise, 2) == 100
    assert arrived(run.air, rise, 2, since=140) == 399


def test_how_fast_full_power_still_climbs():
    """Over the half hour before it is first within 0.2 K; where it never is, over the last before the rise."""
    run, rise = flat(19.0), Rise(400 * 60.0, 19.0, 21.0, 600 * 60.0)
    run.air[100:401, 0] = 19.0 + np.arange(301) / 60.0  # a kelvin an hour from minute 100 on: 20.8 at minute 208
    run.air[100:401, 1] = 19.0 + np.arange(301) / 600.0  # a tenth of it: never there
    assert full_power_climb(run, rise, 0) == pytest.approx(1.0)
    assert full_power_climb(run, rise, 1) == pytest.approx(0.1)
    assert full_power_climb(run, rise, 2) == 0.0


@pytest.mark.parametrize(("heated_at", "fell_at", "expected"), [
    (190, 300, 200),  # heat had a part in it
    (None, 300, 500),  # the sun's, and gone again before the rise: the next one counts
    (None, None, None),  # the sun's, and it stayed: nothing was left to bring
])  # fmt: skip
def test_what_the_sun_alone_brings_is_no_arrival(heated_at, fell_at, expected):
    """Warm at minute 200, perhaps cold again, warm for the rise at 520 from minute 500."""
    run, rise = flat(18.0), Rise(520 * 60.0, 18.0, 20.0, 600 * 60.0)
    run.target[:] = 18.0
    run.air[200:] = 20.0
    if fell_at is not None:
        run.air[fell_at:500] = 18.5
    run.watts[480:500] = 600.0
    if heated_at is not None:
        run.watts[heated_at : heated_at + 5] = 600.0
    assert brought(run, rise, 0) == expected


@pytest.mark.parametrize(("lowered_at", "expected"), [(194, 200), (195, 500)])
def test_heat_for_the_target_before_brings_no_arrival(lowered_at, expected):
    """Heated until minute 195 for 19°, which fell then; warm by the sun at 200, cold again, and warm from 500."""
    run, rise = flat(18.0), Rise(520 * 60.0, 18.0, 20.0, 600 * 60.0)
    run.target[:lowered_at], run.target[lowered_at:] = 19.0, 18.0
    run.air[200:300], run.air[500:] = 20.0, 20.0
    run.watts[150:195] = run.watts[480:500] = 600.0
    assert brought(run, rise, 0) == expected


def test_a_runaway_is_heat_and_not_sun():
    """Half an hour over target + 1.5 K counts if heat was ordered, and not otherwise."""
    run = flat(20.0)
    run.air[100:140, 0] = 21.6
    assert runaways(Run(run)) == 0
    run.on[90:95, 0] = True
    assert runaways(Run(run)) == 40
    run.air[120, 0] = 21.0
    assert runaways(Run(run)) == 0


def test_every_run_of_the_table_can_be_asked_for():
    """The quick table is part of the whole of its kind; every trouble has its knobs; an unknown one is named."""
    for extent in (matrix.QUICK, matrix.FULL):
        specs = list(matrix.all_specs(extent))
        assert {one.house for one in specs} == {"light", "solid"}
        assert {one.trouble for one in specs} == {"", *extent.troubles}
    for name in TROUBLES:
        knobs(name)
    with pytest.raises(KeyError, match="opened window"):
        knobs("flood")


def test_the_picture_marks_each_law_by_shape():
    """Points of each law are drawn as squares, crosses and dots, with their numbers to read out."""
    points = [Point("a", kind, [(0.2, 30.0)]) for kind in ("hysteresis", "proportional", "predictive")]
    told = picture.drawn({"light": points})
    assert all(shape in told for shape in ("<rect", "<path", "<circle", "0.200 @ 30"))
    assert picture.markdown({"light": points}).count("| 0.20 | 0.20 | 30 |") == 3


def test_the_guide_is_written_anew_between_its_words(tmp_path):
    """Publishing changes the guide's tables and nothing else of it."""
    words = Path(__file__).parents[3] / "web" / "help" / "laws.md"
    guide = tmp_path / "laws.md"
    guide.write_text(words.read_text())
    picture.publish({"light": [Point("a", "hysteresis", [(0.2, 30.0)])]}, tmp_path)
    text = guide.read_text()
    begins, ends = words.read_text().index(picture.BEGINS), words.read_text().index(picture.ENDS)
    assert text.startswith(words.read_text()[:begins])
    assert text.endswith(words.read_text()[ends:])
    assert text.count("| 0.20 |") == 1
    assert (tmp_path / "laws.svg").read_text().startswith("<svg")
