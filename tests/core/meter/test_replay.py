"""The replay against the rehearsal's own physics: heaters of many builds, at a dial, under a cover, or free."""

from __future__ import annotations

import pytest

from thermostatd.core.body.brackets import weigh_intervals
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import CANDIDATES, SHARES, warmth_of
from thermostatd.core.meter.causes import FLOWS, NOTHING, OFF, ON
from thermostatd.core.meter.replay import chances
from thermostatd.physics.heater_kinds import heater_design
from thermostatd.physics.heaters import HeaterBody

WATTS, ROOM, STEP = 800.0, 20.0, 10.0
BUILDS = [(1.0, 1.0), (0.7, 1.0), (1.3, 1.0), (1.0, 0.7), (1.0, 1.3)]


def heater_of(capacity: float, output: float) -> HeaterBody:
    """An invented column heater on 800 W, whose cut-out takes all."""
    design = heater_design("oil-filled", WATTS, 230.0, (600.0, 800.0, 1400.0), None, capacity, output)
    return HeaterBody(design, design.nearest_selection(WATTS, 230.0), ROOM)


def known(heater: HeaterBody) -> BodyMemory:
    """What is remembered of such a body once its cut-out is known well, its store by ±15 %."""
    usual = heater_of(1.0, 1.0).design
    scale = heater.design.watts_per_kelvin_n ** (1.0 / heater.design.exponent)
    store = usual.body_joules_per_kelvin / usual.watts_per_kelvin_n ** (1.0 / usual.exponent)
    opens = warmth_of(heater.design.sustained_watts())
    body = BodyMemory(store_joules=store, usual_opens=opens, most=[0.97 * opens] * CANDIDATES, wide=True)
    weigh_intervals(body)
    true = heater.design.body_joules_per_kelvin / scale / store
    off = [abs(share / true - 1.0) for share in SHARES]
    body.weights = [1.0 if one <= max(0.15, min(off)) else 0.0 for one in off]
    return body


def log_of(heater: HeaterBody, hours: float, period: float, on_off: tuple[float, float]) -> list[float]:
    """What a meter of that period tells while the relay goes on and off, as the replay reads it."""
    events: list[float] = []
    relay, turns, flowed = True, on_off[0], None
    for step in range(int(hours * 3600.0 / STEP)):
        at = (step + 1) * STEP
        drawn = heater.step(STEP, 230.0, relay, ROOM).drawn
        told = FLOWS if drawn > 0.5 * WATTS else NOTHING
        if relay and at % period < STEP and (period > 60.0 or told != flowed):
            if period <= 60.0 and flowed is not None:
                events += [at - period, flowed]
            events += [at, told]
            flowed = told
        if at >= turns:
            relay, flowed = not relay, None
            turns = at + on_off[0 if relay else 1]
            events += [at, ON if relay else OFF]
    return events


def told(
    heater: HeaterBody, hours: float = 2.0, period: float = 10.0, on_off: tuple[float, float] = (900.0, 420.0)
):
    """The chances after some hours from cold."""
    return chances(known(heater), [0.0] * CANDIDATES, log_of(heater, hours, period, on_off), WATTS, 1.0)


@pytest.mark.parametrize("build", BUILDS)
@pytest.mark.parametrize("celsius", [40.0, 47.0, 55.0])
def test_a_dial_is_surely_a_dial_on_a_quick_meter(build, celsius):
    """Off low and soon back: within two hours no body of these makes that under a cover."""
    heater = heater_of(*build)
    heater.dial_celsius = celsius
    assert told(heater).is_dial


def test_a_cover_is_no_dial_on_a_quick_meter():
    """Off at two thirds of the rise and back late: surely a cover for most builds, and a dial for none."""
    found = []
    for build in BUILDS:
        heater = heater_of(*build)
        heater.covered = True
        found.append(told(heater))
    assert not any(one.is_dial for one in found)
    assert sum(one.is_covered for one in found) >= 4


@pytest.mark.parametrize("build", BUILDS)
@pytest.mark.parametrize("covered", [True, False])
def test_five_minutes_between_reports_may_leave_it_open_but_never_name_the_wrong_one(build, covered):
    """A slow meter tells at times, and else that it cannot."""
    heater = heater_of(*build)
    heater.covered = covered
    if not covered:
        heater.dial_celsius = 46.0
    found = told(heater, 3.0, 300.0, (700.0, 480.0))
    assert not (found.is_dial if covered else found.is_covered)


def test_two_bodies_may_show_the_same_at_every_report():
    """A dial whose beat is that of the reports shows nothing for an hour, as a cover does: neither name is sure."""
    heater = heater_of(0.7749, 1.0)
    heater.dial_celsius = 46.0
    events = [130.0, NOTHING, 300.0, OFF, 960.0, ON, 1030.0, FLOWS]
    for n in range(1, 14):
        events += [1030.0 + 300.0 * n, NOTHING]
    found = chances(known(heater), [88.0] * CANDIDATES, events, WATTS, 1.0)
    assert not found.is_dial
    assert not found.is_covered


def test_a_plug_that_was_pulled_and_put_back_is_no_dial():
    """Nothing for an hour, then power for good: that came from outside the body."""
    events = [float(one) for n in range(1, 13) for one in (300 * n, NOTHING)]
    events += [float(one) for n in range(13, 17) for one in (300 * n, FLOWS)]
    found = chances(known(heater_of(1.0, 1.0)), [0.0] * CANDIDATES, events, WATTS, 1.0)
    assert found.away > max(found.dial, found.covered)
    assert not found.is_dial


@pytest.mark.parametrize("build", BUILDS)
def test_a_free_cut_out_is_never_a_cover(build):
    """Openings at what it always stood, and back after its usual rest, raise no alarm."""
    heater = heater_of(*build)
    assert not told(heater, 3.0, 10.0, (3600.0, 300.0)).is_covered


@pytest.mark.parametrize("build", BUILDS)
def test_what_slow_reports_leave_open_leans_to_what_it_is(build):
    """Under a cover it leans to a cover; at its dial it does not, and mostly is sure of that."""
    found = {}
    for covered in (True, False):
        heater = heater_of(*build)
        heater.covered = covered
        if not covered:
            heater.dial_celsius = 46.0
        found[covered] = told(heater, 3.5, 300.0, (700.0, 480.0))
    assert found[True].leans_to_a_cover
    assert not found[False].leans_to_a_cover
