"""Falls that are no opening: a selector turned back, an element; and what a cover that was taken away leaves behind."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW, case_of
from tests.core.meter.watching import OIL, OPEN, heater, show
from tests.stories.teller import study
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.facts import HeaterFacts, TripFact
from thermostatd.core.meter import watch
from thermostatd.core.meter.warmth import later, tau_seconds

WALL = NOON.timestamp() - 300.0
MOVED = {"usual": 900.0, "runs": 9, "code": "selector-moved", "evidence": "as seen", "level": 1500.0}
LOWEST = {"usual": 600.0, "runs": 9, "code": "selector-moved", "evidence": "as seen", "level": 1500.0}
STOOD = {"proven": [[1500.0, 1000.0]]}


def fell(case, after, warmth=(440.0, 460.0), before=1500.0):
    """In the middle of a run."""
    return show(case, "fell", before, after, warmth)


def test_a_selector_turned_back_in_the_middle_of_a_run_is_no_opening():
    """From the level that was told to the usual one: over, and neither a cover nor an opening to learn from."""
    case = heater(STOOD, toml=OIL, more={"meter": dict(MOVED)})
    notes = fell(case, 900.0)
    assert "open" not in notes
    assert "code" not in case.kept.notes["meter"]
    assert "covered" not in case.kept.notes
    assert case.kept.facts.trips == []


@pytest.mark.parametrize(
    ("about", "after"),
    [(MOVED, 700.0), (MOVED | {"code": "less-power"}, 900.0), (MOVED | {"level": 1200.0}, 900.0)],
)
def test_only_a_fall_from_what_was_told_to_the_usual_is_a_turn_back(about, after):
    """Anything else stays as it was told."""
    case = heater(STOOD, toml=OIL, more={"meter": dict(about)})
    assert "open" in fell(case, after)
    assert case.kept.notes["meter"]["code"] == about["code"]


@pytest.mark.parametrize(("warmth", "opens"), [((780.0, 799.0), False), ((790.0, 801.0), True)])
def test_down_to_what_its_cut_out_leaves_it_may_have_opened_if_not_early(warmth, opens):
    """Of one whose usual setting is the lowest, only the warmth tells one from the other."""
    case = heater(STOOD, toml=OIL, more={"meter": dict(LOWEST)})
    assert ("open" in fell(case, 600.0, warmth)) is opens
    assert ("code" in case.kept.notes["meter"]) is opens
    assert len(case.kept.facts.trips) == opens


@pytest.mark.parametrize(("cold", "back"), [(20.0, True), (100.0, False)])
def test_cold_on_its_usual_level_what_was_taken_for_an_opening_was_the_selector(cold, back):
    """And nothing is learned from it."""
    facts = HeaterFacts(trips=[TripFact(WALL, 300.0, 1500.0, 588.0)], trip_count=1)
    opened = OPEN | {"wall": WALL}
    case = heater({"open": opened}, facts=facts, more={"meter": {"usual": 588.0, "runs": 9}})
    assert ("open" not in show(case, "started", 588.0, 588.0, (cold, cold + 20.0))) is back
    assert facts.trips == ([] if back else [TripFact(WALL, 300.0, 1500.0, 588.0)])


def test_a_run_on_more_than_an_opening_left_ends_it():
    """On whichever level it is: else whatever it does later would be held against that opening."""
    case = heater({"open": dict(OPEN)}, more={"meter": {"usual": 1500.0, "runs": 9}})
    assert "open" not in show(case, "started", 900.0, 900.0, (100.0, 120.0))
    case = heater({"open": dict(OPEN)}, more={"meter": {"usual": 1500.0, "runs": 9}})
    assert "open" in show(case, "started", 500.0, 500.0, (100.0, 120.0))


def test_a_fall_to_what_no_cut_out_leaves_is_an_element_and_told_from_a_warm_start():
    """Of an oil-filled heater the lowest setting is left: no cover, no opening, and no hour of waiting."""
    case = heater(STOOD, toml=OIL, more={"meter": {"usual": 1500.0, "runs": 9}})
    assert fell(case, 900.0)["open"]["odd"]
    assert case.kept.facts.trips == []
    assert "covered" not in case.kept.notes
    show(case, "started", 900.0, 900.0, (400.0, 420.0))
    assert case.kept.notes["meter"]["code"] == "less-power"


def test_what_comes_back_by_itself_was_its_cut_out_after_all():
    """Whatever it left: the next such fall is known for one."""
    case = heater(STOOD, toml=OIL, more={"meter": {"usual": 1500.0, "runs": 9}})
    fell(case, 900.0, (900.0, 920.0))
    assert "open" not in show(case, "rose", 900.0, 1500.0)
    assert [trip.after_watts for trip in case.kept.facts.trips] == [900.0]
    assert "odd" not in fell(case, 900.0, (900.0, 920.0))["open"]


def test_an_odd_fall_that_goes_out_is_no_second_switch():
    """The setting that was left has a cut-out of its own, which takes all."""
    case = heater({"open": OPEN | {"odd": True}}, more={"meter": {"usual": 1500.0, "runs": 9}})
    assert "gone" in show(case, "gone", 588.0, 0.0)
    assert "covered" not in case.kept.notes


def test_what_lay_under_a_cover_is_hot_for_long_after_it():
    """An opening soon after the owner has looked is not held to come early."""
    rested = 1200.0
    notes = STOOD | {"hot_yet": True, "warmth": 300.0, "warm_at": NOW - rested}
    case = case_of(notes={"cut-out": notes}, told_on=False)
    watch.follow(case)
    tau = tau_seconds(case.heater.kind)
    found = case.notes("cut-out")
    assert "hot_yet" not in found
    assert found["warmth"] == pytest.approx(later(600.0, 0.0, rested, 2.5 * tau), abs=0.1)
    assert found["warm_at"] == NOW


def test_what_was_hotter_yet_stays_so():
    """And without anything known it is as warm as it was."""
    notes = {"hot_yet": True, "warmth": 300.0, "warm_at": NOW}
    case = case_of(notes={"cut-out": notes}, told_on=False)
    watch.follow(case)
    assert case.notes("cut-out")["warmth"] == 300.0


@pytest.mark.parametrize("code", [{}, {"code": "less-power", "evidence": "as seen", "level": 300.0}])
def test_more_than_was_seen_so_far_is_no_trouble_where_the_file_says_it(code):
    """What was seen first may have been what an open cut-out left."""
    toml = study(heater="settings_watts = [300, 600, 900]")  # and 600 W is what the file says
    case = heater(toml=toml, more={"meter": {"usual": 300.0, "runs": 9} | code})
    show(case, "started", 600.0, 600.0, (100.0, 120.0))
    assert case.kept.notes["meter"] == {"usual": 600.0, "runs": 10}
    case = heater(toml=toml, more={"meter": {"usual": 300.0, "runs": 9}})
    show(case, "started", 900.0, 900.0, (100.0, 120.0))
    assert case.kept.notes["meter"]["code"] == "selector-moved"


@pytest.mark.parametrize(
    ("told", "cold", "more", "named"),
    [
        (120.0, 119.0, {}, True),
        (121.0, 119.0, {}, False),
        (120.0, 120.0, {}, False),
        (120.0, 119.0, {"stuck_at": NOW - 60.0}, False),
    ],
)
def test_a_slow_meter_tells_at_once_of_a_cold_run_that_is_told_soon(told, cold, more, named):
    """No cold body opens within two minutes, under a cover or not: its level is another. One heated while off is not
    known to be cold."""
    notes = {"open": OPEN | {"warmth": 421.0}, "cold": cold, "on_at": NOW - told} | STOOD | more
    case = heater(notes, more={"meter": {"usual": 1500.0, "runs": 9}, "covered": {"tries": 1}})
    show(case, "started", 588.0, 588.0, (20.0, 60.0), slow=True)
    assert (case.kept.notes["meter"].get("code") == "less-power") is named
    assert (case.kept.notes["covered"] == {}) is named


@pytest.mark.parametrize(
    ("ago", "before", "covered"), [(7200.0, 588.0, True), (7211.0, 588.0, False), (60.0, 700.0, False)]
)
def test_what_was_found_open_and_told_as_another_level_is_covered_if_even_that_goes_out(ago, before, covered):
    """A cover keeps a body hot for so long that it may pass for cold: its second switch tells within two hours."""
    told = {"usual": 1500.0, "runs": 9, "code": "selector-moved", "evidence": "as seen", "level": 588.0}
    found = OPEN | {"at": NOW - 10.0 - ago, "found": True}
    case = heater({"found": found}, more={"meter": dict(told)})
    notes = show(case, "gone", before, 0.0)
    assert "found" not in notes
    assert (case.kept.notes.get("covered", {}).get("tries") == 1) is covered
    assert ("code" not in case.kept.notes["meter"]) is covered
    assert ("gone" in notes) is not covered


def test_an_opening_that_goes_out_leaves_what_else_was_told():
    """Only what was found at a switch-on may have been told as another level."""
    case = heater({"open": dict(OPEN)}, more={"meter": dict(MOVED)})
    show(case, "gone", 588.0, 0.0)
    assert case.kept.notes["meter"]["code"] == "selector-moved"


def test_what_the_body_took_for_a_fall_is_forgotten_once_it_is_turned_back():
    """Else its next opening would be held against it as one far too early."""
    body = BodyMemory(opened=True, fell_at=NOW - 60.0, fall=Lesson(WALL, [1.0], [2.0]), cool_share=0.1)
    case = heater(STOOD, toml=OIL, body=body, watts=890.0, more={"meter": dict(MOVED)})
    fell(case, 900.0)
    assert (body.opened, body.fell_at, body.fall, body.cool_share) == (False, None, None, 1.0)
    assert (body.full_watts, body.drew_watts, body.peak_watts) == (900.0, 890.0, 0.0)


FLOWED = {"flowed_at": NOW - 900.0, "cold": 200.0} | STOOD


@pytest.mark.parametrize(
    ("notes", "how", "gone"),
    [
        ({}, {}, True),
        ({}, {"slow": False}, False),
        ({"flowed_at": NOW - 5400.0}, {}, True),
        ({"flowed_at": NOW - 5401.0}, {}, False),
        ({"flowed_at": None}, {}, False),
    ],
)
def test_a_run_that_shows_nothing_from_its_first_report_went_out_since_the_last_that_flowed(notes, how, gone):
    """Told every five minutes, a run may show one report: a dial shows power in one and nothing in the next."""
    notes = {name: one for name, one in (FLOWED | notes).items() if one is not None}
    case = heater(notes, toml=OIL, more={"meter": {"usual": 1500.0, "runs": 20}})
    found = show(case, "started", 0.0, 0.0, (200.0, 210.0), **{"slow": True} | how)
    assert ("gone" in found) is gone
    if gone:
        most = later(200.0, 1500.0, 600.0, tau_seconds(case.heater.kind))
        assert found["gone"] | {"at": 0.0} == {
            "on_at": NOW - 600.0, "before": 1500.0, "after": 0.0, "at": 0.0, "seconds": 590.0,
            "warmth": pytest.approx(0.5 * (200.0 + most), abs=0.1), "most": pytest.approx(most, abs=0.1),
        }  # fmt: skip


def test_where_a_cut_out_takes_all_it_may_have_been_open_yet():
    """As one that is known to have gone keeps to what was seen of it, or whose usual power is not known."""
    for toml, more in ((None, {"meter": {"usual": 600.0}}), (OIL, {})):
        case = heater(FLOWED, toml=toml, more=more)
        assert "gone" not in show(case, "started", 0.0, 0.0, (200.0, 210.0), slow=True)
    case = heater(FLOWED | {"gone": {"at": 5.0}}, toml=OIL, more={"meter": {"usual": 1500.0}})
    assert show(case, "started", 0.0, 0.0, (200.0, 210.0), slow=True)["gone"] == {"at": 5.0}


def test_runs_of_one_report_each_name_a_dial():
    """Power in one, nothing in the next, twice within three hours: its cut-out would have left an element."""
    case = heater(FLOWED, toml=OIL, more={"meter": {"usual": 1500.0, "runs": 20}})
    for _ in range(2):
        case.notes("cut-out")["flowed_at"] = NOW - 900.0
        show(case, "started", 0.0, 0.0, (200.0, 210.0), slow=True)
        show(case, "started", 1500.0, 1500.0, (200.0, 400.0), (NOW + 280.0, NOW + 300.0), slow=True)
    assert case.kept.notes["meter"]["code"] == "dial-down"
