"""Heater bodies: the balance, each switch, and what the plug would see."""

from math import exp, inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.physics.heater_kinds import MAKES, heater_design, oil_filled, selector, settings_of
from thermostatd.physics.heaters import Cutout, HeaterBody, HeaterDesign, Selection, joined_ohms, watts_for

kinds = st.sampled_from(sorted(MAKES))


@given(kinds, st.floats(200, 3000), st.lists(st.booleans(), min_size=1, max_size=40), st.floats(-10, 35))
def test_a_heaters_energy_balance_closes(kind, watts, orders, room):
    """What the body stores is what it drew minus what it gave, whatever was switched."""
    body = HeaterBody(heater_design(kind, watts, 230), body_celsius=room)
    before, drawn, given_joules = body.stored_joules, 0.0, 0.0
    for on in orders:
        flow = body.step(95.0, 235.0, on, room)
        drawn, given_joules = drawn + 95 * flow.drawn, given_joules + 95 * flow.given
    assert body.stored_joules - before == pytest.approx(drawn - given_joules, rel=1e-9, abs=1.0)


@given(kinds, st.floats(200, 3000))
def test_a_sound_heater_never_reaches_its_last_switches(kind, watts):
    """Uncovered, at 10 % over nominal, neither the manual cut-out nor the fuse ever opens."""
    body = HeaterBody(heater_design(kind, watts, 230))
    body.step(4 * 3600, 253, True, 25)
    assert not body.manual_open
    assert not body.fuse_open


@pytest.mark.parametrize("kind", ["panel", "convector", "infrared"])
def test_other_kinds_shed_their_label(kind):
    """A panel, convector or infrared heater gives its label for hours without a trip."""
    body = HeaterBody(heater_design(kind, 900, 230))
    body.step(3 * 3600, 230, True, 20)
    assert body.step(10, 230, True, 20).given == pytest.approx(900, rel=0.01)
    assert body.trips == 0


def test_a_cutout_before_every_element_cycles_to_nothing_and_back():
    """With all elements behind it, the draw falls to 0 W and returns by itself after the body cooled."""
    body, seen = HeaterBody(oil_filled(), selection=1), []
    for _ in range(540):
        drawn = round(body.step(10, 230, True, 20).drawn)
        if not seen or seen[-1] != drawn:
            seen.append(drawn)
    assert seen[:5] == [912, 0, 912, 0, 912]
    assert body.trips >= 3


def test_a_low_element_keeps_the_cutout_open_until_the_plug_rests():
    """On 588 W the body stays too hot to close; after a rest of the plug the full power is back."""
    body = HeaterBody(oil_filled(), selection=2)
    body.step(4 * 3600, 230, True, 20)
    assert body.cutout_open
    assert body.trips == 1
    body.step(60, 230, False, 20)
    assert body.step(10, 230, True, 20).drawn == pytest.approx(588)
    body.step(900, 230, False, 20)
    assert body.step(10, 230, True, 20).drawn == pytest.approx(1500)


def test_a_cutout_that_has_nothing_behind_it_interrupts_nothing():
    """On the low element alone a covered body passes the temperature at which it opens: full power goes on, no trip."""
    body = HeaterBody(oil_filled(), selection=0, covered=True)
    body.step(1800, 230, True, 20)
    assert body.cutout_open
    assert body.step(10, 230, True, 20).drawn == pytest.approx(588)
    assert body.trips == 0


def test_covered_trips_far_earlier_and_latches_in_the_end():
    """Under a cloth the cut-out opens well before its usual time, and the manual one follows."""

    def trip(covered):
        body, seconds = HeaterBody(oil_filled(), selection=2, covered=covered), 0
        while not body.cutout_open:
            body.step(10, 230, True, 20)
            seconds += 10
        return body, seconds

    (_, usual), (body, early) = trip(False), trip(True)
    assert early < 0.7 * usual
    body.step(3 * 3600, 230, True, 20)
    assert body.manual_open
    assert body.step(10, 230, True, 20).drawn == 0
    body.step(6 * 3600, 230, True, 20)
    assert body.manual_open, "a manual-reset cut-out stays open when cold"
    body.reset()
    assert body.step(10, 230, True, 20).drawn == pytest.approx(1500)


def test_a_one_shot_fuse_stays_open_even_cold():
    """Past its temperature the fuse opens for good; only a repair closes it."""
    design = heater_design("convector", 1000, 230)
    body = HeaterBody(design, body_celsius=design.fuse_celsius + 40)
    body.step(10, 230, True, 20)
    body.step(2 * 3600, 230, True, 20)
    assert body.fuse_open
    assert body.ohms == inf


def test_knocked_over_draws_nothing_until_upright():
    """The tip-over switch opens everything and closes when the heater stands again."""
    body = HeaterBody(oil_filled(), tipped=True)
    assert body.step(10, 230, True, 20).drawn == 0
    body.tipped = False
    assert body.step(10, 230, True, 20).drawn == pytest.approx(588)


def test_a_turned_down_dial_cycles_below_its_mark():
    """The dial opens at its own temperature, so the heater sheds less than its setting."""
    body = HeaterBody(oil_filled(), dial_celsius=45.0)
    body.step(3600, 230, True, 20)
    flow = body.step(6 * 3600, 230, True, 20)
    assert 100 < flow.drawn < 0.5 * 588
    assert body.body_celsius < 46.0


def test_a_burnt_element_leaves_the_others():
    """One of two parallel elements burnt leaves the other's watts; in series it leaves none."""
    body = HeaterBody(oil_filled(), selection=2, burnt=frozenset({1}))
    assert body.step(10, 230, True, 20).drawn == pytest.approx(588)
    string = HeaterDesign(
        (23.0, 17.0), (Selection((0, 1), in_series=True),), 9000, 3, Cutout(80, 60), frozenset({0})
    )
    assert HeaterBody(string).step(10, 120, True, 20).drawn == pytest.approx(360)
    assert HeaterBody(string, burnt=frozenset({0})).step(10, 120, True, 20).drawn == 0


def test_a_bad_contact_takes_its_share():
    """Resistance in series lowers what the elements draw: I = V/(R+r)."""
    body = HeaterBody(oil_filled(), selection=2)
    ohms = body.ohms
    assert body.step(10, 230, True, 20, series_ohms=2.0).drawn == pytest.approx(
        (230 / (ohms + 2)) ** 2 * ohms
    )


@given(st.lists(st.floats(200, 2500), min_size=1, max_size=4, unique=True))
def test_a_selector_gives_its_settings(watts):
    """Whatever settings a label names, the elements made for them draw just that."""
    steps = sorted(watts)
    elements, choices = selector(steps, 230)
    if len(elements) == len(steps):
        for setting, choice in zip(steps, choices, strict=True):
            ohms = joined_ohms([elements[one] for one in choice.elements], False)
            assert watts_for(ohms, 230) == pytest.approx(setting)
    else:
        assert len(elements) == 2


def test_a_low_setting_of_a_column_heater_is_taken_as_such():
    """650 W written alone for an oil-filled heater is the low setting of a bigger one, which sustains it."""
    assert settings_of("oil-filled", 650)[0] == pytest.approx(650)
    body = HeaterBody(heater_design("oil-filled", 650, 230))
    assert body.step(5 * 3600, 230, True, 20).drawn == pytest.approx(650)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: watts_for(0, 230),
        lambda: watts_for(20, -1),
        lambda: joined_ohms((), False),
        lambda: Cutout(60, 80),
        lambda: heater_design("panel", 0, 230),
        lambda: heater_design("panel", 900, 0),
        lambda: HeaterDesign((20.0,), (Selection((1,)),), 1, 1, Cutout(80, 60), frozenset()),
    ],
)
def test_impossible_heaters_are_refused(wrong):
    """0 Ω, negative volts or an element that is not there is a ValueError with words."""
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        wrong()


@given(kinds, st.floats(200, 3000))
def test_close_to_its_cut_out_the_output_falls_with_its_time_constant(kind, watts):
    """Without power, from just under it, through a twentieth of it: to first order, stepped a second at a time."""
    design = heater_design(kind, watts, 230.0)
    body = HeaterBody(design, body_celsius=design.cutout.opens_celsius - 0.01)
    tau = design.tau_seconds()
    first = body.step(1.0, 230.0, False, 20.0).given
    for _ in range(round(tau / 20.0)):
        last = body.step(1.0, 230.0, False, 20.0).given
    assert last / first == pytest.approx(exp(-round(tau / 20.0) / tau), abs=0.002)
