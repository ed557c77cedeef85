"""Plugs of the rehearsal: timer, button, meter, and their faults as the meter shows them."""

import pytest

from tests.rehearsal.homes import PLAIN_METER, alive, home
from thermostatd.rehearsal import MeterTraits

KEY = "r0/h"
SETTINGS = (588, 912, 1500)


def column(**changes):
    """One room with a column heater on its 1500 W setting, its plug told ON for long."""
    house = alive(home(watts=(1500,), settings=SETTINGS), **changes)
    house.tell(KEY, True, 1e6)
    house.advance(60)
    return house


def test_an_on_ends_by_itself_after_the_seconds_told():
    """The timer opens the contact at its second, with nobody telling it, and the plug says so."""
    house = alive()
    house.tell(KEY, True, 123.4)
    house.advance(123.3)
    assert house.report(KEY).on is True
    house.advance(0.2)
    assert house.report(KEY).on is False
    assert house.report(KEY).on_at == pytest.approx(123.4)
    house.advance(60)
    assert house.report(KEY).watts == pytest.approx(0, abs=1)


def test_a_renewed_on_goes_on():
    """A second ON counts its seconds anew, without a switching."""
    house = alive()
    house.tell(KEY, True, 60)
    house.advance(50)
    house.tell(KEY, True, 60)
    house.advance(50)
    assert house.report(KEY).on is True
    assert house.plugs[KEY].switchings == 1


def test_a_button_press_toggles_without_a_timer():
    """Someone's press closes the contact until someone opens it."""
    house = alive()
    house.press(KEY)
    house.advance(7200)
    assert house.report(KEY).on is True
    house.press(KEY)
    assert house.report(KEY).on is False


def test_the_meter_lags_and_reports_by_its_period():
    """Just after switching the meter still shows the past; a period and its lag later, the truth."""
    meters = {KEY: MeterTraits(period_seconds=60.0, step_watts=10.0, lag_seconds=20.0)}
    house = alive(home(watts=(600,)), meters={**meters, "bench/p": PLAIN_METER})
    house.advance(30)
    house.tell(KEY, True, 1e6)
    house.advance(20)
    report = house.report(KEY)
    assert report.on is True
    assert report.watts == 0
    assert report.watts_at < report.on_at
    house.advance(180)
    report = house.report(KEY)
    assert report.watts == pytest.approx(600, rel=0.12)
    assert report.watts % 10 == 0
    assert 0 <= house.steady - report.watts_at <= 60


def test_a_column_heater_cycles_without_any_room_sensor():
    """Left on 1500 W it trips its cut-out by itself and goes on with its low element."""
    house = column()
    assert house.report(KEY).watts == pytest.approx(1500, rel=0.08)
    house.advance(1800)
    assert house.report(KEY).watts == pytest.approx(588, rel=0.08)
    assert house.plugs[KEY].heater.trips == 1


def test_a_welded_contact_keeps_drawing_after_off():
    """It shows OFF and draws on, until it is mended."""
    house = column()
    house.fault(KEY, "contact_welded")
    house.tell(KEY, False, 0)
    house.advance(60)
    assert house.report(KEY).on is False
    assert house.report(KEY).watts > 1000
    house.mend(KEY)
    house.advance(60)
    assert house.report(KEY).watts == pytest.approx(0, abs=1)


def test_a_weld_needs_a_closed_contact():
    """Ordered while open, the contact welds the next time it closes."""
    house = alive()
    house.fault(KEY, "contact_welded")
    house.advance(60)
    assert house.report(KEY).watts == 0
    house.tell(KEY, True, 30)
    house.advance(120)
    assert house.report(KEY).on is False
    assert house.report(KEY).watts > 500


@pytest.mark.parametrize("kind", ["knocked_over", "fuse_gone", "unplugged"])
def test_faults_that_draw_nothing(kind):
    """Commanded on, it shows ON and draws 0 W, and draws again once mended."""
    house = column()
    house.fault(KEY, kind)
    house.advance(120)
    assert house.report(KEY).on is True
    assert house.report(KEY).watts == pytest.approx(0, abs=1)
    house.mend(KEY)
    house.advance(120)
    assert house.report(KEY).watts > 1000


def test_covered_comes_early_and_loud():
    """Under a cloth the cut-out opens in well under its usual ten minutes."""
    house = column()
    house.fault(KEY, "covered")
    house.advance(420)
    assert house.plugs[KEY].heater.trips == 1


def test_dial_element_and_selector_change_the_watts():
    """A dial turned down cycles, a burnt element and a moved selector draw another level."""
    house = column()
    house.fault(KEY, "element_burnt")
    house.advance(60)
    assert house.report(KEY).watts == pytest.approx(588, rel=0.08)
    house.mend(KEY)
    house.fault(KEY, "selector_moved", watts=900)
    house.advance(60)
    assert house.report(KEY).watts == pytest.approx(912, rel=0.08)
    house.mend(KEY)
    house.fault(KEY, "dial_down", celsius=35)
    house.advance(3600)
    seen = set()
    for _ in range(360):
        house.advance(10)
        seen.add(house.report(KEY).watts > 100)
    assert seen == {True, False}


def test_a_carried_heater_warms_the_other_room():
    """Its plug draws as before, but the heat is elsewhere."""

    def airs(carried):
        house = alive()
        house.tell(KEY, True, 1e6)
        if carried:
            house.fault(KEY, "carried_to", room="r2")
        house.advance(6 * 3600)
        return house.true_air("r0"), house.true_air("r2")

    (here, there), (left, gained) = airs(False), airs(True)
    assert left < here - 1
    assert gained > there + 1


def test_a_bad_socket_sags_and_warms_under_load():
    """Volts at the plug fall only while it draws, and the plug grows warmer than a sound one."""
    house = column()
    house.fault(KEY, "bad_socket", ohms=1.5)
    house.advance(60)
    loaded = house.report(KEY).volts
    house.advance(1200)
    warm = house.report(KEY).warm_celsius
    house.tell(KEY, False, 0)
    house.advance(60)
    assert house.report(KEY).volts - loaded > 6
    sound = column()
    sound.advance(1260)
    assert warm > sound.report(KEY).warm_celsius + 5


def test_an_offline_plug_hears_and_tells_nothing_but_keeps_its_timer():
    """Away, it is unreachable with old news, loses orders, and still ends its ON in time."""
    house = alive()
    house.tell(KEY, True, 600)
    house.advance(60)
    house.fault(KEY, "plug_offline")
    house.tell(KEY, False, 0)
    house.advance(300)
    report = house.report(KEY)
    assert not report.reachable
    assert report.watts_at <= 60
    assert house.plugs[KEY].drawn_watts > 500
    assert KEY in house.observation().plugs
    house.advance(300)
    assert house.plugs[KEY].drawn_watts == 0
    house.mend(KEY)
    house.advance(20)
    assert house.report(KEY).on is False
    assert house.report(KEY).reachable


def test_a_reboot_into_on_has_no_timer():
    """It comes up closed and stays so until told."""
    house = alive()
    house.fault(KEY, "plug_reboots_on")
    house.advance(4 * 3600)
    assert house.report(KEY).on is True
    house.tell(KEY, False, 0)
    assert house.report(KEY).on is False


def test_unknown_faults_and_places_are_named():
    """A misspelt fault, heater or room is an error that lists what there is."""
    house = alive()
    with pytest.raises(ValueError, match="covered"):
        house.fault(KEY, "haunted")
    with pytest.raises(ValueError, match="silent"):
        house.fault("r0", "covered")
    with pytest.raises(KeyError, match="bench/p"):
        house.fault("attic", "silent")
    with pytest.raises(KeyError, match="r1"):
        house.fault(KEY, "carried_to", room="moon")
    with pytest.raises(KeyError):
        house.mend("attic")


def test_every_fault_of_a_heater_can_be_mended():
    """Whatever broke, after mending the heater draws its setting in its own room."""
    options = {"selector_moved": {"watts": 588}, "carried_to": {"room": "bench"}}
    for kind in alive().faults.heater_kinds:
        house = column()
        house.fault(KEY, kind, **options.get(kind, {}))
        house.advance(60)
        house.mend(KEY)
        house.tell(KEY, False, 0)
        house.advance(3600)
        house.tell(KEY, True, 1e6)
        house.advance(90)
        assert house.report(KEY).watts == pytest.approx(1500, rel=0.08), kind
        assert house.plugs[KEY].place == "r0"
