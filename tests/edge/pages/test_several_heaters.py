"""The page of a room with two heaters: its day in hours that have sixty minutes, and whose run each line tells."""

from __future__ import annotations

from datetime import timedelta

from tests.edge.pages.double import START
from thermostatd.core.reasons import reason, sentence
from thermostatd.edge.pages.door import Happened
from thermostatd.edge.pages.room_days import Past
from thermostatd.edge.pages.room_page import lines_of

BOTH = ("by the door", "by the window")
WARM, PACED = reason("warming", target=20.5, eta="").sentence, reason("pacing").sentence


def test_two_heaters_at_once_heat_an_hour_no_longer_than_an_hour():
    """Both run from minute 0 to 60, one of them on to 75: the room was heated 75 minutes, not 135."""
    past = Past.of((), [(3600.0, 7200.0), (3600.0, 8100.0), (9000.0, 9600.0)])
    assert past.runs == [(3600.0, 8100.0), (9000.0, 9600.0)]


def _switched(minute: float, heater: str, on: bool, why: str) -> Happened:
    code = "switched-on" if on else "switched-off"
    return Happened(START + timedelta(minutes=minute), code, f"hall/{heater}", sentence(code, why=why))


def _two_hours() -> list[Happened]:
    """Two paced heaters that take turns, newest first."""
    found = []
    for begin in range(0, 120, 20):
        found += [_switched(begin, BOTH[0], True, WARM), _switched(begin + 9, BOTH[0], False, PACED)]
        found += [_switched(begin + 5, BOTH[1], True, WARM), _switched(begin + 15, BOTH[1], False, PACED)]
    return sorted(found, key=lambda one: one.at, reverse=True)


def test_each_heater_of_a_room_has_a_line_of_its_own():
    """Twenty-four switchings of two heaters in turn are two lines, each with the heater's name."""
    told = [line.sentence for line in lines_of(_two_hours(), Past(), START, BOTH)]
    rest = f"Warming towards 20.5°. On 6 times. Between: {PACED}"
    assert told == [f"By the window: {rest}", f"By the door: {rest}"]


def test_what_befalls_the_room_ends_both_lines_and_what_befalls_one_heater_its_own():
    """A wish cuts both; a heater's cut-out only its own."""
    asked = sentence("asked", who="Ana", celsius=21.0, until="22:00")
    fell = sentence("cut-out-opened", before=800.0, after=600.0)
    wish = Happened(START + timedelta(minutes=58), "asked", "hall", asked)
    opened = Happened(START + timedelta(minutes=38), "cut-out-opened", f"hall/{BOTH[0]}", fell)
    happened = sorted([*_two_hours(), wish, opened], key=lambda one: one.at, reverse=True)
    told = [line.sentence.partition(".")[0] for line in lines_of(happened, Past(), START, BOTH)]
    assert [one.partition(":")[0] for one in told] == [
        BOTH[1].capitalize(), BOTH[0].capitalize(), "Ana asked for 21", BOTH[1].capitalize(), BOTH[0].capitalize(),
        "By the door", "By the door",
    ]  # fmt: skip


def test_a_trouble_of_one_of_two_names_it_and_a_rooms_own_does_not():
    """Its `about` goes on with the trouble's code."""
    troubles = [
        Happened(START - timedelta(minutes=minute), "trouble", about, sentence("trouble", what="What.", evidence="So."))
        for minute, about in enumerate((f"hall/{BOTH[1]}/cut-out", "hall/reading-missing"))
    ]
    assert [line.sentence for line in lines_of(troubles, Past(), START, BOTH)] == [
        "By the window: What. So.", "What. So.",
    ]  # fmt: skip


def test_a_rooms_only_heater_is_not_named():
    """Nobody has to be told which."""
    happened = [one for one in _two_hours() if one.about.endswith(BOTH[0])]
    assert [line.sentence for line in lines_of(happened, Past(), START, BOTH[:1])] == [
        f"Warming towards 20.5°. On 6 times. Between: {PACED}"
    ]


def test_runs_of_one_way_up_are_one_line_with_the_time_they_led_to():
    """Six runs before 06:30 had each counted other minutes, and were twelve lines."""
    happened, due = [], START + timedelta(minutes=150)
    for begin in range(0, 120, 20):
        why = reason("preheating", target=20.5, minutes=150.0 - begin).sentence
        happened += [_switched(begin, BOTH[0], True, why), _switched(begin + 9, BOTH[0], False, PACED)]
    told = [line.sentence for line in lines_of(happened[::-1], Past(), START, BOTH[:1])]
    assert told == [f"Warming early: 20.5° is wanted at {due:%a %H:%M}. On 6 times. Between: {PACED}"]


def test_a_pause_for_an_open_window_is_not_lost_among_other_reasons():
    """Of several reasons to be off between the runs each is told once, as it was last."""
    pauses = [reason("window-open", until=at).sentence for at in ("11:21", "12:40")]
    happened = []
    for minute, why in enumerate((PACED, pauses[0], PACED, pauses[1], PACED)):
        begin = 20.0 * minute
        happened += [_switched(begin, BOTH[0], True, WARM), _switched(begin + 9, BOTH[0], False, why)]
    (line,) = lines_of(happened[::-1], Past(), START, BOTH[:1])
    assert line.sentence == f"Warming towards 20.5°. On 5 times. Between: {PACED} {pauses[1]}"
