"""Rooms and closed forms: balances, bounds, and clear refusals."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.physics.rooms import (
    RoomBody,
    on_off_cycle,
    optimum_start,
    relay_oscillation,
    room_from_floor,
    seconds_to_reach,
    simc_pi,
)

rooms = st.builds(
    room_from_floor,
    st.floats(6, 60),
    st.sampled_from(["very light", "light", "medium", "heavy"]),
    st.floats(0.5, 30),
    st.floats(0.5, 30),
    st.floats(0.1, 3),
)
celsius = st.floats(-20, 35)
watts = st.floats(0, 2500)


@given(rooms, celsius, celsius, celsius, watts, watts, st.integers(1, 200))
def test_the_energy_balance_closes(constants, air, mass, outdoor, to_air, to_surface, steps):
    """What a room stores is what it was given minus what it lost to outdoors, to the joule."""
    body = RoomBody(constants, air, mass)
    before, lost = body.stored_joules, 0.0
    for _ in range(steps):
        lost += 10.0 * body.step(10.0, outdoor, to_air, to_surface)
    given_joules = 10.0 * steps * (to_air + to_surface)
    assert body.stored_joules - before == pytest.approx(given_joules - lost, rel=1e-9, abs=1.0)


@given(rooms, celsius, celsius, celsius, st.integers(1, 300))
def test_a_room_without_heat_stays_between_its_own_and_the_outdoor_temperature(c, air, mass, outdoor, steps):
    """Without gains neither node leaves the span of air, mass and outdoors."""
    body = RoomBody(c, air, mass)
    assert c.longest_step_seconds > 10
    low, high = min(air, mass, outdoor) - 1e-9, max(air, mass, outdoor) + 1e-9
    for _ in range(steps):
        body.step(10.0, outdoor)
        assert low <= body.air_celsius <= high
        assert low <= body.mass_celsius <= high


@given(rooms)
def test_a_room_settles_where_its_steady_loss_says(constants):
    """In balance, heat to the air is the steady loss times the difference to outdoors."""
    body = RoomBody(constants, 20.0, 20.0)
    rise, air_watts = 15.0, 15.0 * constants.loss_watts_per_kelvin
    skin_to_mass = constants.mass_to_surface
    through = 1 / (1 / constants.envelope + 1 / skin_to_mass)
    skin = constants.surface_to_air / (constants.surface_to_air + constants.windows + through) * rise
    body.air_celsius, body.mass_celsius = rise, skin * skin_to_mass / (skin_to_mass + constants.envelope)
    body.step(10.0, 0.0, air_watts)
    assert body.air_celsius == pytest.approx(rise, abs=1e-6)


def test_the_closed_cycle_is_what_a_stepped_relay_does():
    """A simulated relay on a first-order room with dead time settles into the closed form's cycle."""
    tau, dead, now, air, on = 14_400.0, 300, 0, 19.5, True
    pipe, turns = [True] * dead, []
    while len(turns) < 8:
        heat = pipe[now % dead]
        air += (((30.0 if heat else 0.0) - air) / tau) * 1.0
        wanted = True if air <= 19.75 else False if air >= 20.25 else on
        if wanted != on:
            on = wanted
            turns.append(now)
        pipe[now % dead] = on
        now += 1
    cycle = on_off_cycle(20, 0.25, 0, 30, tau, dead)
    spans = sorted(after - before for before, after in pairwise(turns[4:]))
    assert spans[0] == pytest.approx(cycle.off_seconds, abs=3)
    assert spans[-1] == pytest.approx(cycle.on_seconds, abs=3)


@given(st.floats(1, 60), st.floats(600, 1e6), st.floats(10, 3600))
def test_simc_settings_are_sane(gain, tau, dead):
    """The integral time never passes the room's own, and a stronger heater gets a smaller gain."""
    kc, integral = simc_pi(gain, tau, dead)
    assert 0 < integral <= tau
    assert simc_pi(2 * gain, tau, dead)[0] == pytest.approx(kc / 2)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: simc_pi(0, 1, 1),
        lambda: simc_pi(1, 0, 1),
        lambda: seconds_to_reach(16, 31, 30, 100),
        lambda: seconds_to_reach(20, float("nan"), 30, 100),
        lambda: on_off_cycle(20, 0.25, 21, 30, 100),
        lambda: on_off_cycle(20, 0, 0, 30, 100),
        lambda: optimum_start(20, 31, 0, 30, 30, 8),
        lambda: relay_oscillation(1, 1, 0, 1),
        lambda: room_from_floor(0, "light", 1, 1, 1),
        lambda: room_from_floor(10, "light", -1, 1, 1),
        lambda: room_from_floor(10, "light", 1, 0, 1),
    ],
)
def test_impossible_rooms_are_refused(wrong):
    """What cannot be answered is a ValueError with words."""
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        wrong()


def test_a_start_that_is_overdue_is_now():
    """When full heat cannot make it in time, the start is now and the lead is all the time left."""
    start = optimum_start(10, 20, 0, 21, 30, 2)
    assert (start.from_now_hours, start.lead_hours) == (0.0, 2.0)
