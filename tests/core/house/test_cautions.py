"""Cautions appear where they apply, at their key, and nowhere else."""

import pytest

from tests.core.house.houses import COLUMN, PANEL, ROOM, house
from thermostatd.core.house.cautions import cautions
from thermostatd.core.house.currents import amps_at_high_mains, amps_at_nominal, continuous_amps

NORTH_AMERICA = [(("house", "mains_volts"), 120), (("house", "mains_tolerance"), 0)]
MORNING = [{"at": "07:30", "celsius": 20}]
EVENING = {"from": "17:00", "to": "20:00", "per_kwh": 3.0}
HIDDEN_PRICE = {"per_kwh": 1.0, "prices": [EVENING, {"days": "sat", "from": "18:00", "to": "19:00", "per_kwh": 9.0}]}
GIVEN = {
    "no asleep hours": ([(("house", "asleep"), ...)], ("house", "asleep")),
    "no time zone": ([(("house", "timezone"), ...)], ("house", "timezone")),
    "a price that never holds": ([(("tariff",), HIDDEN_PRICE)], ("tariff", "prices", 1)),
    "no circuit": ([((*COLUMN, "circuit"), ...)], (*COLUMN, "circuit")),
    "over the share": ([((*COLUMN, "watts"), 2700)], (*COLUMN, "watts")),
    "together over the share": (
        [(("circuit", 0, "breaker_amps"), 8), ((*COLUMN, "watts"), 1200)], ("circuit", 0)),
    "a weak plug": ([((*COLUMN, "plug", "rated_amps"), 2.8)], (*COLUMN, "plug", "rated_amps")),
    "a rating not given": ([((*COLUMN, "plug", "rated_amps"), ...)], (*COLUMN, "plug", "rated_amps")),
    "a long load on 13 A": (
        [((*COLUMN, "plug", "rated_amps"), 13), ((*COLUMN, "watts"), 2200)], (*COLUMN, "plug", "rated_amps")),
    "no timer": (
        [((*COLUMN, "plug", "timer"), ...), ((*COLUMN, "plug", "no_self_off"), "accepted")],
        (*COLUMN, "plug", "no_self_off")),
    "power-on state": ([((*COLUMN, "plug", "power_on"), ...)], (*COLUMN, "plug", "power_on")),
    "a spot's power-on state": ([((*PANEL, "plug", "power_on"), ...)], (*PANEL, "plug", "power_on")),
    "no contact state": ([((*COLUMN, "plug", "shows"), ...)], (*COLUMN, "plug", "shows")),
    "state read where orders go": (
        [((*COLUMN, "plug", "shows", "topic"), "plug/1/set")], (*COLUMN, "plug", "shows", "topic")),
    "no meter": ([((*COLUMN, "plug", "draws"), ...)], (*COLUMN, "plug", "draws")),
    "a setting that the selector lacks": ([((*COLUMN, "settings_watts"), [800, 1400])], (*COLUMN, "watts")),
    "infrared in a room": ([((*COLUMN, "kind"), "infrared")], (*COLUMN, "kind")),
    "a usual step while asleep": ([((*COLUMN, "may_run"), ["awake", "away"])], (*ROOM, "usual", 0)),
    "a frost floor while out": ([((*COLUMN, "may_run"), ["awake", "asleep"])], (*COLUMN, "may_run")),
    "a cold usual step": ([((*ROOM, "usual", 0, "celsius"), 17.9)], (*ROOM, "usual", 0, "celsius")),
    "a cold lowest": ([((*ROOM, "household"), {"lowest": 15})], (*ROOM, "household", "lowest")),
    "a room without a heater": ([((*ROOM, "heater"), [])], (*ROOM, "heater")),
    "a room without a week": ([((*ROOM, "usual"), [])], (*ROOM, "usual")),
    "a cycle under the minimum times": (
        [((*ROOM, "control"), "proportional"), ((*ROOM, "cycle"), "9 min")], (*ROOM, "cycle")),
    "a reading over an hour old": ([((*ROOM, "sensor", "stale_after"), "2 h")], (*ROOM, "sensor", "stale_after")),
    "pages open to the network": (
        [(("pages", "open"), True), (("pages", "listen"), "0.0.0.0:8420")], ("pages", "open")),
    "a password over the network": (
        [(("broker", "password_file"), "p"), (("broker", "host"), "10.0.0.9")], ("broker", "password_file")),
}


def paths(*changes):
    return [caution.path for caution in cautions(house(*changes))]


def test_a_careful_house_hears_nothing():
    """Where no caution applies, none is given."""
    assert cautions(house()) == ()


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"from": "22:00", "to": "06:00"}, {"days": "mon", "from": "23:00", "to": "06:01"}),
        ({"days": "mon-fri", "from": "22:00", "to": "06:00"}, {"days": "sat", "from": "05:00", "to": "06:01"}),
        ({"days": "mon-fri", "from": "22:00", "to": "06:00"}, {"days": "sun", "from": "05:00", "to": "06:00"}),
    ],
)
def test_a_price_that_holds_for_a_minute_is_none_that_never_holds(first, second):
    """Hours that pass midnight belong to the day on which they begin, and end on the next."""
    prices = [one | {"per_kwh": 2.0} for one in (first, second)]
    assert paths((("tariff",), {"per_kwh": 1.0, "prices": prices})) == []


@pytest.mark.parametrize("name", GIVEN)
def test_a_caution_is_given_at_its_key(name):
    """Each circumstance brings its caution, with words and a mend."""
    changes, path = GIVEN[name]
    found = [caution for caution in cautions(house(*changes)) if caution.path == path]
    assert len(found) == 1
    assert found[0].what
    assert found[0].mend


def test_nec_share_of_a_15_a_circuit_at_120_v():
    """NEC 210.23(A)(1) and 210.20: 15 A at 120 V carries 1440 W for hours, so 1500 W is over it."""
    circuit = (("circuit", 0, "breaker_amps"), 15)
    alone = ((*COLUMN, "watts"), 1440), ((*PANEL, "watts"), 20)
    assert (*COLUMN, "watts") not in paths(*NORTH_AMERICA, circuit, *alone)
    assert (*COLUMN, "watts") in paths(*NORTH_AMERICA, circuit, ((*COLUMN, "watts"), 1500))


def test_nec_share_of_a_20_a_circuit_at_120_v():
    """NEC 210.23(A)(1) and 210.20: 20 A at 120 V carries 1920 W for hours."""
    small = house(*NORTH_AMERICA, (("circuit", 0, "breaker_amps"), 20))
    assert continuous_amps(small.circuits[0]) * small.house.mains_volts == pytest.approx(1920)


def test_current_at_high_mains_follows_ohm():
    """2000 W at 230 V is 26.45 ohm and 8.70 A; at 253 V it draws 2420 W, 9.565 A (Ohm; EN 50160 ±10 %)."""
    table = house().house
    assert amps_at_nominal(2000, table) == pytest.approx(8.70, abs=0.005)
    assert amps_at_high_mains(2000, table) == pytest.approx(2420 / 253)
    assert amps_at_high_mains(2000, table) == pytest.approx(253 / 26.45)


def test_the_share_is_judged_at_high_mains():
    """A heater within the share at nominal and over it at high mains is named."""
    assert (*COLUMN, "watts") not in paths(((*COLUMN, "watts"), 2700), (("house", "mains_tolerance"), 0))
    assert (*COLUMN, "watts") in paths(((*COLUMN, "watts"), 2700))


def test_the_18_degree_caution_comes_once():
    """Below 18 °C (WHO 2018, second-hand) the house hears one gentle word, however many steps are cold."""
    cold = [{"at": f"{hour:02d}:00", "celsius": 15} for hour in range(5)]
    found = [c for c in cautions(house(((*ROOM, "usual"), cold))) if "WHO" in c.what]
    assert len(found) == 1
    assert "4 more" in found[0].what


def test_18_degrees_is_not_cold():
    """At 18 °C nothing is said."""
    assert paths(((*ROOM, "usual", 0, "celsius"), 18)) == []


def test_a_step_that_ends_before_sleep_is_not_named():
    """Only what holds while the house is asleep is named: here the step at 22:00, not the one at 07:30."""
    steps = [*MORNING, {"at": "22:00", "celsius": 18}]
    assert paths(((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "usual"), steps)) == [(*ROOM, "usual", 1)]


def test_a_step_down_to_frost_before_sleep_needs_no_word():
    """A room that falls to the frost floor before the house sleeps asks for no heat then."""
    steps = [*MORNING, {"at": "23:00", "celsius": 12}]
    found = paths(
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "usual"), steps), (("house", "frost_celsius"), 12)
    )
    assert (*ROOM, "usual", 1) not in found
    assert (*ROOM, "usual", 0) not in found


def test_a_step_inside_the_asleep_hours_is_named():
    """A step before the house wakes is forbidden heat."""
    steps = [{"at": "05:00", "celsius": 20}, {"at": "22:00", "celsius": 12}]
    found = paths(
        ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "usual"), steps), (("house", "frost_celsius"), 12)
    )
    assert (*ROOM, "usual", 0) in found


def test_a_preheat_in_asleep_hours_is_named():
    """A predictive room whose morning step follows waking would have to begin before it."""
    forbidden = ((*COLUMN, "may_run"), ["awake", "away"]), ((*ROOM, "control"), "predictive")
    assert (*ROOM, "usual", 0, "at") in paths(*forbidden)
    assert (*ROOM, "usual", 0, "at") not in paths(*forbidden, ((*ROOM, "usual", 0, "at"), "10:00"))
    assert (*ROOM, "usual", 0, "at") not in paths(forbidden[1])


def test_another_heater_that_may_run_is_enough():
    """A room is spoken for when any of its heaters may run."""
    second = {"name": "panel", "watts": 300, "circuit": "north", "may_run": ["awake", "asleep", "away"],
              "plug": {"kind": "simulated", "rated_amps": 16}}
    assert paths(((*COLUMN, "may_run"), ["awake"]), ((*ROOM, "heater", 1), second)) == []
