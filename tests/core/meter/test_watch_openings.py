"""Power that fell, went or came back in a run: an opening to learn from, one far too early, or none."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW
from tests.core.meter.watching import BEGAN, GONE, OIL, OPEN, heater, show
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.facts import HeaterFacts, TripFact

WALL, HOUR = NOON.timestamp(), 3600.0
STOOD = {"proven": [[1500.0, 500.0]]}


def trip(after=588.0, hours_ago=0.5, before=1500.0):
    """An opening that was learned so long ago."""
    return TripFact(WALL - hours_ago * HOUR, 600.0, before, after)


def lesson(hours_ago):
    """What an opening so long ago taught."""
    return Lesson(WALL - hours_ago * HOUR, [100.0] * CANDIDATES, [101.0] * CANDIDATES)


def test_a_fall_near_what_it_stood_is_an_opening_to_learn_from():
    """In the middle between two reports, ten seconds ago; it counts, is told, and it runs on what is left."""
    case = heater(STOOD)
    notes = show(case, "fell", 1500.0, 588.0)
    facts = case.kept.facts
    assert facts.trips == [TripFact(WALL - 10.0, 590.0, 1500.0, 588.0, 450.0)]
    assert facts.trip_count == 1
    assert facts.level_watts == 588.0
    assert facts.levels[0].seen_wall == WALL
    assert notes == STOOD | {
        "on_at": BEGAN,
        "openings": 1,
        "tripped_at": NOW,
        "news": [["cut-out-opened", {"before": 1500.0, "after": 588.0}]],
        "open": {
            "on_at": BEGAN, "before": 1500.0, "after": 588.0, "at": NOW - 10.0, "seconds": 590.0, "warmth": 450.0,
            "most": 460.0, "wall": WALL - 10.0, "ran": 10, "told": NOW, "in": BEGAN,
        },
    }  # fmt: skip
    assert "covered" not in case.kept.notes


def test_what_is_kept_of_an_opening_is_kept_to_a_tenth():
    """Of a second and of a watt."""
    opened = show(heater(), "fell", 1500.0, 588.0, (440.0, 460.52), (NOW - 20.0, NOW - 0.48))["open"]
    assert [opened[name] for name in ("at", "seconds", "warmth", "most")] == [NOW - 10.2, 589.8, 450.3, 460.5]


def test_only_the_last_dozen_are_kept_and_all_are_counted():
    """The oldest goes."""
    facts = HeaterFacts(trips=[trip(hours_ago=20 - n) for n in range(12)], trip_count=40)
    notes = show(heater({"openings": 3}, facts=facts), "fell", 1500.0, 588.0)
    assert notes["openings"] == 4
    assert (len(facts.trips), facts.trip_count) == (12, 41)
    assert facts.trips[0] == trip(hours_ago=19)
    assert facts.trips[-1].at_wall == WALL - 10.0


@pytest.mark.parametrize(
    ("most", "tries", "notes", "learned", "covered"),
    [
        (400.0, 0, {}, 1, 0),
        (399.0, 0, {}, 0, 1),
        (200.0, 0, {}, 0, 1),
        (199.0, 0, {}, 0, 0),
        (199.0, 1, {}, 0, 2),
        (399.0, 0, {"stuck_at": NOW - 7199.0}, 0, 0),
        (400.0, 0, {"stuck_at": NOW - 7199.0}, 0, 0),
        (400.0, 0, {"stuck_at": NOW}, 0, 0),
        (400.0, 0, {"stuck_at": NOW - 7200.0}, 1, 0),
        (400.0, 0, {"stuck_at": NOW + 1.0}, 1, 0),
        (100.0, 0, {"proven": []}, 1, 0),
    ],
)
def test_how_early_it_opens_says_what_it_is(most, tries, notes, learned, covered):
    """From eight tenths of what it stood free, from four tenths covered, earlier still none, unless suspected; of a
    body that was heated while off nobody knows."""
    case = heater(STOOD | notes, more={"covered": {"tries": tries}})
    found = show(case, "fell", 1500.0, 588.0, (most - 20.0, most))
    assert case.kept.facts.trip_count == learned
    assert case.kept.notes["covered"]["tries"] == covered
    assert ("wall" in found["open"]) is bool(learned)
    assert found["openings"] == 1


def test_a_cover_is_told_with_the_minutes_and_the_share():
    """Sixty per cent of what it stood, after ten minutes less ten seconds."""
    case = heater(STOOD)
    show(case, "fell", 1500.0, 588.0, (280.0, 300.0))
    assert case.kept.notes["covered"]["evidence"] == (
        "Its own cut-out opened after 10 min, at 60 % of the warmth that it has stood before."
    )


def test_a_store_larger_than_usual_may_be_warm_yet_from_the_run_before():
    """Where the body says that it opened near what it stood, that holds."""
    fall = Lesson(WALL, [130.0] * CANDIDATES, [130.0] * CANDIDATES)
    body = BodyMemory(most=[130.0] * CANDIDATES, usual_opens=135.0, fall=fall)
    case = heater(STOOD, body=body)
    show(case, "fell", 1500.0, 588.0, (280.0, 300.0))
    assert case.kept.facts.trip_count == 1
    body = BodyMemory(fall=fall, most=[0.0] * CANDIDATES)
    case = heater(STOOD, body=body)
    show(case, "fell", 1500.0, 588.0, (430.0, 450.0))
    assert case.kept.facts.trip_count == 1, "the share by its level is the greater"


def test_a_further_fall_while_it_is_open_is_no_other_opening():
    """What was seen first stays; its level is kept."""
    case = heater({"open": dict(OPEN)})
    notes = show(case, "fell", 588.0, 400.0)
    assert "openings" not in notes
    assert notes["open"] == OPEN | {"ran": 300, "told": NOW, "in": BEGAN}
    assert case.kept.facts.level_watts == 400.0


def test_how_long_it_ran_on_what_is_left_counts_over_its_runs():
    """From the opening, then from report to report, and in another run from its switch-on."""
    case = heater({"open": dict(OPEN)})
    assert show(case, "held", 588.0, 588.0)["open"]["ran"] == 300
    assert show(case, "held", 588.0, 588.0, at=(NOW + 60.4,) * 2)["open"]["ran"] == 360
    case.notes("cut-out")["on_at"] = NOW + 500.0
    assert show(case, "held", 588.0, 588.0, at=(NOW + 540.0,) * 2)["open"]["ran"] == 400
    assert show(case, "held", 588.0, 588.0, at=(NOW + 530.0,) * 2)["open"]["ran"] == 400


@pytest.mark.parametrize(
    ("opened", "before", "overheats"),
    [
        ({"at": NOW - 7210.0}, 588.0, True),
        ({"at": NOW - 7211.0}, 588.0, False),
        ({}, 560.0, True),
        ({}, 500.0, False),
        (None, 588.0, False),
    ],
)
def test_nothing_after_its_low_element_within_two_hours_is_too_hot(opened, before, overheats):
    """A second switch opened; else power is only gone, and it waits for it to come back."""
    case = heater({"open": OPEN | opened} if opened is not None else {})
    notes = show(case, "gone", before, 0.0)
    assert ("covered" in case.kept.notes) is overheats
    if overheats:
        assert case.kept.notes["covered"]["evidence"].startswith("Its cut-out left 588 W, and after ")
        assert "gone" not in notes
        return
    assert notes["gone"] == {
        "on_at": BEGAN, "before": before, "after": 0.0, "at": NOW - 10.0, "seconds": 590.0, "warmth": 450.0,
        "most": 460.0,
    }  # fmt: skip


def test_power_that_rises_to_what_it_was_is_a_cut_out_that_closes():
    """It is told; anything else is another level."""
    case = heater({"open": dict(OPEN)}, more={"meter": {"usual": 1500.0, "runs": 9}})
    notes = show(case, "rose", 588.0, 1450.0)
    assert "open" not in notes
    assert notes["news"] == [["cut-out-closed", {"watts": 1450.0}]]
    case = heater({"open": dict(OPEN)}, more={"meter": {"usual": 900.0, "runs": 9}})
    notes = show(case, "rose", 588.0, 1300.0)
    assert "open" in notes
    assert case.kept.notes["meter"]["code"] == "selector-moved"
    assert case.kept.facts.level_watts == 1300.0


FREE = {"proven": [[1500.0, 1000.0]], "gone": GONE}


def test_back_after_what_it_stood_it_was_its_cut_out():
    """It taught, it is told both ways, and the log of it is over."""
    case = heater(FREE | {"log": {"ev": []}, "openings": 3})
    notes = show(case, "rose", 0.0, 1450.0)
    assert case.kept.facts.trips == [TripFact(WALL - 700.0, 300.0, 1500.0, 0.0, 850.0)]
    assert notes["news"] == [
        ["cut-out-opened", {"before": 1500.0, "after": 0.0}],
        ["cut-out-closed", {"watts": 1450.0}],
    ]
    assert notes["openings"] == 4
    assert not {"gone", "log"} & set(notes)
    assert case.kept.notes["meter"]["cycles"] == [[NOW, 1.0, 690]]


@pytest.mark.parametrize(
    ("how", "slow", "counts"),
    [
        ({"at": NOW - 10.0}, False, True),
        ({"at": NOW - 9.0}, False, False),
        ({"at": NOW - 2410.0}, False, True),
        ({"at": NOW - 2411.0}, False, False),
        ({"at": NOW - 5410.0}, True, True),
        ({"at": NOW - 5411.0}, True, False),
        ({"before": 900.0}, False, False),
    ],
)
def test_no_body_takes_longer_to_cool(how, slow, counts):
    """Forty minutes, ninety where a slow meter shows it late; and the power that is back is that which went."""
    notes = show(heater(FREE | {"gone": GONE | how}), "rose", 0.0, 1500.0, slow=slow)
    assert ("openings" in notes) is counts
    assert "gone" not in notes


def test_power_that_is_back_without_having_gone_in_a_run_says_nothing():
    """And nothing is told of a body that was heated while off."""
    assert "openings" not in show(heater(), "rose", 0.0, 1500.0)
    assert "openings" not in show(heater(FREE | {"stuck_at": NOW - 60.0}), "rose", 0.0, 1500.0)


@pytest.mark.parametrize(
    ("most", "proven", "about", "learned", "told"),
    [
        (800.0, 1000.0, {}, True, ["cut-out-opened", "cut-out-closed"]),
        (799.0, 1000.0, {}, False, ["cut-out-opened", "cut-out-closed"]),
        (799.0, None, {}, True, ["cut-out-opened", "cut-out-closed"]),
        (900.0, 1000.0, {"code": "dial-down"}, False, ["went-off"]),
    ],
)
def test_what_opened_early_or_at_its_dial_teaches_nothing(most, proven, about, learned, told):
    """It is counted all the same, and the log goes on; what is known to be its dial is told as no cut-out's opening."""
    known = {"proven": [[1500.0, proven]] if proven else [], "gone": GONE | {"most": most}, "log": {"ev": []}}
    case = heater(known, more={"meter": about | {"runs": 9}})
    notes = show(case, "rose", 0.0, 1500.0)
    assert bool(case.kept.facts.trips) is learned
    assert ("log" in notes) is not learned
    assert (notes["openings"], [code for code, _ in notes["news"]]) == (1, told)


@pytest.mark.parametrize(
    ("before", "slow", "counts"), [(600.0, False, False), (1500.0, True, False), (1500.0, False, True)]
)
def test_where_a_cut_out_would_leave_an_element_nothing_was_one(before, slow, counts):
    """The lowest setting has none behind it, and what is told so late of the highest speaks for none."""
    case = heater({"gone": GONE | {"before": before}}, toml=OIL)
    assert ("openings" in show(case, "rose", 0.0, before, slow=slow)) is counts


def test_twice_early_and_late_back_may_be_either():
    """Without a log that tells, a cover is not sure."""
    early = {"runs": 9, "cycles": [[NOW - 2000.0, 0.5, 900]]}
    case = heater(FREE | {"gone": GONE | {"most": 500.0}}, more={"meter": early})
    show(case, "rose", 0.0, 1500.0)
    assert case.kept.notes["covered"]["unsure"] is True


def test_once_it_is_the_dial_what_it_did_taught_nothing():
    """Openings to nothing from that level of the last three hours are forgotten, and their lessons; others stay."""
    stay = [trip(0.0, hours_ago=4.0), trip(588.0), trip(0.0, before=900.0)]
    facts = HeaterFacts(trips=[*stay, trip(0.0), trip(0.0, 2.9, 1370.0)], trip_count=20, opens_watts=500.0)
    body = BodyMemory(lessons=[lesson(4.0), lesson(2.0)], most=[0.0] * CANDIDATES)
    early = {"runs": 9, "cycles": [[NOW - 2000.0, 0.5, 300]]}
    case = heater(FREE | {"gone": GONE | {"most": 500.0}}, facts=facts, body=body, more={"meter": early})
    notes = show(case, "rose", 0.0, 1500.0)
    assert case.kept.notes["meter"]["code"] == "dial-down"
    assert (facts.trips, facts.trip_count) == (stay, 18)
    assert body.lessons == [lesson(4.0)]
    assert facts.opens_watts is None, "without a store nothing can be told"
    assert notes["openings"] == 1
