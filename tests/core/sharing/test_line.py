"""Who comes first in line for a circuit, and what one that is on may keep, at the very edges of the bounds."""

from dataclasses import replace

import pytest

from thermostatd.core.sharing.turns import Member, Ruling, place_in_line, share_out

DEN = Member("den/oil", 4.0, True, None)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"by_hand": True}, (0, False, 0.0, "den/oil")),
        ({"by_hand": True, "ran_seconds": 900.0}, (0, False, -900.0, "den/oil")),
        ({"ran_seconds": 299.0}, (0, False, -299.0, "den/oil")),
        ({"ran_seconds": 300.0}, (2, False, -300.0, "den/oil")),
        ({"spot": "first"}, (1, False, 0.0, "den/oil")),
        ({"spot": "first", "ran_seconds": 900.0}, (1, False, -900.0, "den/oil")),
        ({"spot": "last", "ran_seconds": 400.0}, (4, False, -400.0, "den/oil")),
        ({"spot": "last"}, (4, False, 0.0, "den/oil")),
        ({"ran_seconds": 599.0, "need": 3.0}, (2, False, -599.0, "den/oil")),
        ({"ran_seconds": 600.0, "need": 3.0}, (3, True, -3.5, "den/oil")),
        ({"need": 3.0}, (3, True, -3.0, "den/oil")),
        ({"waited": 2700.0, "need": 3.0}, (3, False, -2700.0, "den/oil")),
        ({"waited": 2699.0, "need": 3.0}, (3, True, -3.0, "den/oil")),
        ({"waited": 9000.0, "ran_seconds": 700.0, "need": 3.0}, (3, True, -3.5, "den/oil")),
    ],
)
def test_a_place_in_line_is_by_hand_spot_turn_wait_and_need(change, place):
    """In that order; who runs has half a kelvin more."""
    assert place_in_line(replace(DEN, **change)) == place


RUNS = replace(DEN, ran_seconds=400.0)
OTHER = Member("hall/oil", 4.0, True, 500.0)


@pytest.mark.parametrize(
    ("share", "den", "hall"),
    [
        (8.0, Ruling(True), Ruling(True)),
        (7.9, Ruling(False, "circuit", True), Ruling(True)),
        (3.9, Ruling(False, "turn-never", True), Ruling(False, "turn-never", True)),
        (4.0, Ruling(False, "circuit", True), Ruling(True)),
    ],
)
def test_a_sum_that_is_over_is_shed_at_once_the_last_in_line_first(share, den, hall):
    """Exactly the share still fits."""
    assert share_out([RUNS, OTHER], share) == {"den/oil": den, "hall/oil": hall}


@pytest.mark.parametrize(("share", "den"), [(8.0, Ruling(True)), (7.0, Ruling(False, "circuit", True))])
def test_what_draws_without_an_order_has_its_share_before_all(share, den):
    """Pressed ON and let: it costs nothing more, and leaves that much less."""
    pressed = Member("hall/oil", 4.0, True, None, drawing=True, by_hand=True)
    assert share_out([RUNS, pressed], share) == {"den/oil": den, "hall/oil": Ruling(True)}
    assert share_out([pressed], 4.0) == {"hall/oil": Ruling(True)}


@pytest.mark.parametrize(("ran", "code"), [(29.0, "turn-next"), (30.0, None)])
def test_one_starts_half_a_minute_after_another(ran, code):
    """So that inrush and meter can be seen."""
    ruling = share_out([replace(RUNS, ran_seconds=ran), replace(OTHER, ran_seconds=None)], 9.0)["hall/oil"]
    assert ruling == (Ruling(True, "turn-next") if code is None else Ruling(False, code))


def test_what_goes_off_in_this_step_still_takes_its_share():
    """Its turn is over; who is next starts once it is off."""
    over, needy = replace(RUNS, ran_seconds=700.0), replace(OTHER, ran_seconds=None, need=2.0)
    assert share_out([over, needy], 5.0) == {
        "den/oil": Ruling(False, "turn-over"),
        "hall/oil": Ruling(False, "circuit"),
    }
    gone = replace(over, ran_seconds=None, wanted=False, drawing=True, leaving=True)
    assert share_out([gone, needy], 5.0) == {"hall/oil": Ruling(False, "circuit")}
    assert share_out([replace(gone, drawing=False, leaving=False), needy], 5.0) == {
        "hall/oil": Ruling(True, "turn-next")
    }


def test_a_whole_share_is_enough_to_start():
    """To the last ampere; and what it still draws itself costs nothing more."""
    assert share_out([DEN], 4.0) == {"den/oil": Ruling(True, "turn-next")}
    assert share_out([replace(DEN, drawing=True, leaving=True)], 4.0) == {
        "den/oil": Ruling(True, "turn-next")
    }


def test_who_still_draws_and_wants_again_passes_nobody():
    """It waits behind a larger one that waits for a turn to end."""
    large = Member("hall/oil", 8.0, True, need=2.0)
    small = Member("loft/oil", 2.0, True, need=1.0, drawing=True, leaving=True)
    assert share_out([RUNS, large, small], 8.0)["loft/oil"] == Ruling(False, "circuit")


def test_who_runs_in_its_turn_goes_on_behind_one_that_waits():
    """A first spot that does not fit beside a run by hand blocks who is new, not who is on."""
    by_hand = Member("loft/oil", 1.0, True, 900.0, by_hand=True)
    spot = Member("desk/panel", 8.0, True, spot="first")
    assert share_out([by_hand, spot, RUNS], 8.0)["den/oil"] == Ruling(True)


def test_what_others_draw_is_not_there_to_be_planned_with():
    """A heater that nobody wants and that draws: the next in line waits for a turn to end, and is not overtaken."""
    foreign = Member("attic/oil", 4.0, False, None, drawing=True)
    large, small = Member("hall/oil", 6.0, True, need=2.0), Member("loft/oil", 2.0, True, need=1.0)
    assert share_out([foreign, RUNS, large, small], 10.0)["loft/oil"] == Ruling(False, "circuit")


def test_each_that_starts_takes_its_share_from_the_next():
    """Beside one that is leaving: the first fits now, the second once it has left; who does not fit takes nothing."""
    leaving = Member("attic/oil", 4.0, False, None, drawing=True, leaving=True)
    first, second = Member("hall/oil", 4.0, True, need=2.0), Member("loft/oil", 4.0, True, need=1.0)
    assert share_out([leaving, first, second], 8.0) == {
        "hall/oil": Ruling(True, "turn-next"),
        "loft/oil": Ruling(False, "circuit"),
    }
    found = share_out([replace(leaving, amps=6.0), replace(first, amps=6.0), second], 10.0)
    assert found == {"hall/oil": Ruling(False, "circuit"), "loft/oil": Ruling(True, "turn-next")}
