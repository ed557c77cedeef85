"""A heater's meter is followed step by step: when a run begins and ends, which reports count, what a log tells."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW
from tests.core.meter.test_replay import WATTS, heater_of, known, log_of
from tests.core.meter.watching import BEGAN, GONE, OIL, heater, show
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.facts import HeaterFacts, LevelFact, TripFact
from thermostatd.core.meter import interrupted, replay, run, watch
from thermostatd.core.meter.causes import FLOWS, NOTHING, OFF, ON, Chances
from thermostatd.core.meter.warmth import tau_seconds

WALL, HOUR, TAU = NOON.timestamp(), 3600.0, tau_seconds("oil-filled")
RUNNING = {"level": 600.0, "top": 600.0, "warmth": 300.0, "warm_at": NOW - 900.0, "last_at": NOW - 900.0}


def running(notes=(), **kept):
    """A heater that is on since ten minutes ago, on a quick meter that tells 1500 W now."""
    now = {
        "told_on": True,
        "on_since": BEGAN,
        "watts": 1500.0,
        "watts_at": NOW,
        "meter_period": 10.0,
        "volts": 230.0,
    }
    return heater({"warmth": 0.0, "warm_at": BEGAN, "cold": 0.0} | dict(notes), **(now | kept))


def followed(case):
    """The notes of its cut-out after a step."""
    watch.follow(case)
    return case.kept.notes["cut-out"]


def test_a_report_is_taken_in_once():
    """It gives the level, and what is usual; the same report again changes nothing."""
    case = running()
    notes = followed(case)
    assert (notes["judged_at"], notes["level"]) == (NOW, 1500.0)
    assert case.kept.notes["meter"] == {"usual": 1500.0, "runs": 1}
    before = repr(case.kept)
    assert repr(followed(case)) == repr(notes)
    assert repr(case.kept) == before


def test_watts_are_taken_to_the_mains_nominal_volts():
    """1372 W at 220 V are 1500 W at 230 V, since a heater is a resistance."""
    assert followed(running(watts=1372.4, volts=220.0))["level"] == 1500.0


@pytest.mark.parametrize(
    ("kept", "judged", "heard"),
    [({}, True, True), ({"shown_on": True}, True, True), ({"shown_on": False}, False, False),
     ({"watts_at": BEGAN + 10.0}, True, False), ({"watts": None}, True, False)],
)  # fmt: skip
def test_a_report_counts_only_while_it_is_on_and_for_a_while(kept, judged, heard):
    """Not while the plug shows that it is off, nor within seconds of the switching."""
    notes = followed(running(**kept))
    assert ("judged_at" in notes, "level" in notes) == (judged, heard)


@pytest.mark.parametrize("ran", [True, False])
def test_a_new_run_begins_and_the_one_before_is_over(ran):
    """The body warmed until the switching, though nothing was told of the rest between; the log has the relay."""
    book = {"at": NOW - 2000.0, "on": False, "ev": []}
    before = {"on_at": NOW - 5000.0, **RUNNING} if ran else {"warmth": 300.0, "warm_at": NOW - 900.0}
    case = running(watts_at=None)
    case.kept.notes["cut-out"] = before | {"log": dict(book)}
    expected = dict(before)
    if ran:
        run.end(expected, BEGAN, TAU)
    run.begin(expected, BEGAN, TAU)
    assert followed(case) == expected | {"log": book | {"on": True, "ev": [1400, ON]}}


@pytest.mark.parametrize("since", [BEGAN, None])
def test_the_same_run_goes_on(since):
    """Nothing begins while the order is the same, or where it is not known since when."""
    case = running(RUNNING, on_since=since, watts_at=None)
    assert followed(case) == {"on_at": BEGAN, "cold": 0.0, **RUNNING}


@pytest.mark.parametrize("off_since", [NOW - 30.0, None])
def test_once_it_is_off_its_run_is_over(off_since):
    """At the switching, or now where that is not known; the log has the relay, and the body goes on cooling."""
    book = {"at": NOW - 2000.0, "on": True, "ev": []}
    case = heater(RUNNING | {"log": dict(book)}, told_on=False, off_since=off_since)
    expected = {"on_at": BEGAN, **RUNNING}
    run.end(expected, off_since or NOW, TAU)
    off = 2000 if off_since is None else 1970
    assert followed(case) == expected | {"log": book | {"on": False, "ev": [off, OFF]}}
    assert followed(case) == expected | {"log": book | {"on": False, "ev": [off, OFF]}}
    assert "meter" not in case.kept.notes


@pytest.mark.parametrize(
    ("notes", "volts", "code"),
    [
        ({"early": [1500.0, NOW - 100.0]}, 230.0, "selector-moved"),
        ({"early": [1500.0, NOW - 100.0], "level": 600.0, "warmth": 0.0, "warm_at": NOW}, 230.0, None),
        ({"early": [660.0, NOW - 100.0]}, 230.0, "selector-moved"),
        ({"early": [660.0, NOW - 100.0]}, None, None),
        ({}, 230.0, None),
    ],
)
def test_a_run_too_short_for_its_meter_shows_power_that_flowed(notes, volts, code):
    """More than usual is the selector, however short the run; where its level was seen that has been told."""
    about = {"usual": 600.0, "runs": 5}
    case = heater(notes, told_on=False, off_since=NOW, volts=volts, more={"meter": about})
    followed(case)
    assert case.kept.notes["meter"].get("code") == code


@pytest.mark.parametrize(
    ("watts", "at", "stuck"),
    [
        (18.0, NOW, False),
        (18.1, NOW, True),
        (600.0, NOW - 41.0, False),
        (None, NOW, False),
        (0.0, NOW, False),
    ],
)
def test_power_that_flows_while_it_is_off_leaves_its_warmth_unknown(watts, at, stuck):
    """A contact that stuck: over the floor of 3 % of 600 W, a minute after the switching; the log is over."""
    case = heater({"log": {"at": 0.0, "on": False, "ev": []}}, told_on=False, off_since=NOW - 100.0, watts=watts,
                  watts_at=at, meter_period=10.0)  # fmt: skip
    del case.kept.notes["cut-out"]["on_at"]
    notes = followed(case)
    assert notes.get("stuck_at") == (NOW if stuck else None)
    assert ("log" in notes) is not stuck


@pytest.mark.parametrize(
    ("toml", "levels", "fell"), [(None, [], False), (OIL, [], True), (None, [LevelFact(600.0, 9.0)], True)]
)
def test_one_report_of_a_slow_meter_is_believed_on_a_level_that_is_known(toml, levels, fell):
    """A setting of the house file, or one that was seen before."""
    level = RUNNING | {"level": 1500.0, "top": 1500.0}
    case = running(level, toml=toml, facts=HeaterFacts(levels=levels), watts=600.0, meter_period=300.0)
    assert (followed(case)["level"] == 600.0) is fell


@pytest.mark.parametrize(("stuck_at", "kept"), [(NOW - 60.0, False), (NOW - 7200.0, True)])
def test_a_log_begins_with_nothing_unless_it_drew_while_off(stuck_at, kept):
    """How warm the body is nobody knows then."""
    body = BodyMemory(proven_at=NOW - 100.0, proven=[80.0] * CANDIDATES, full_watts=1500.0)
    case = running(RUNNING | {"stuck_at": stuck_at}, body=body, watts=0.0, more={"covered": {"tries": 1}})
    assert ("log" in followed(case)) is kept


def logged(hours=2.0, period=10.0, *, dial=False, facts=None, **more):
    """A heater with a log as its physics make it, under a cover or at its dial."""
    made = heater_of(1.0, 1.0)
    made.covered, made.dial_celsius = not dial, 46.0 if dial else made.dial_celsius
    events = log_of(made, hours, period, (900.0, 420.0) if period < 60.0 else (700.0, 480.0))
    book = {"at": NOW - hours * HOUR, "w": [0.0] * CANDIDATES, "on": True, "watts": WATTS, "ev": events}
    return heater({"log": book}, facts=facts, body=known(made), more=more)


def read(case):
    """What the log tells: the notes of the meter and of the cover."""
    interrupted.judge(case, case.notes("cut-out"))
    return case.notes("meter"), case.notes("covered")


def said_of(case, sentence):
    """The sentence that names a cause, with the hours and the reports of its log."""
    events = case.kept.notes["cut-out"]["log"]["ev"]
    count = sum(what in (FLOWS, NOTHING) for what in events[1::2])
    comma = "," if sentence.startswith("which") else ""
    return f"In {events[-2] / 3600:.1f} h its {count} reports showed power or none{comma} {sentence}"


COVER = "as a cover makes it: off early, and back late."
DIAL = "as a dial turned down makes it: off early, and soon back."
LEANS_TO_DIAL = (
    "rather as a dial turned down makes it than as a cover does. Look first whether something lies on it, "
    "then at its dial."
)
AS_LIKELY = (
    "which fits a cover about as well as a dial turned down. Look first whether something lies on it, then at its dial."
)
LEANS = "rather as a cover makes it than as a dial turned down does. If nothing lies on it, look at its dial."


def test_a_log_of_a_dial_names_it():
    """What was taken for openings to nothing, and what they taught, is forgotten."""
    trips = [TripFact(WALL - 60.0, 300.0, WATTS, 0.0), TripFact(WALL - 60.0, 300.0, 400.0, 0.0)]
    case = logged(dial=True, facts=HeaterFacts(trips=list(trips), trip_count=2), covered={"tries": 2})
    old, new = (Lesson(WALL - ago, [100.0] * CANDIDATES, [101.0] * CANDIDATES) for ago in (4 * HOUR, 60.0))
    case.kept.body.lessons = [old, new]
    about, covered = read(case)
    assert (about["code"], covered) == ("dial-down", {})
    assert about["evidence"] == said_of(case, DIAL)
    assert (case.kept.facts.trips, case.kept.body.lessons) == (trips[1:], [old])
    about["evidence"] = "told"
    case.kept.notes["cut-out"]["log"].pop("read")
    assert read(case)[0]["evidence"] == "told", "once"


@pytest.mark.parametrize(
    ("about", "covered", "tries", "told"),
    [
        ({}, {"tries": 1, "unsure": True}, 1, True),
        ({"cycles": [[NOW - 60.0, 0.5, 900]]}, {}, 1, True),
        ({"code": "dial-down"}, {}, 1, True),
        ({"code": "dial-down"}, {"tries": 1}, 2, True),
        ({}, {"tries": 1, "unsure": False}, 1, False),
    ],
)
def test_a_log_of_a_cover_makes_it_sure(about, covered, tries, told):
    """What was unsure is sure; what was only suspected, or held to be the dial, rests; what is sure stays."""
    case = logged(meter=about, covered=covered)
    _, found = read(case)
    assert (found["tries"], found["unsure"]) == (tries, False)
    assert found.get("evidence") == (said_of(case, COVER) if told else None)


@pytest.mark.parametrize(
    ("dial", "covered", "sentence"),
    [
        (0.0, 0.5, LEANS),
        (0.5, 0.5, AS_LIKELY),
        (1.5, 0.5, AS_LIKELY),
        (1.6, 0.5, LEANS_TO_DIAL),
        (4.9, 0.0, LEANS_TO_DIAL),
        (-1.0, -2.1, None),
    ],
)
def test_a_log_that_is_not_sure_may_lean(monkeypatch, dial, covered, sentence):
    """That is told beside what is unsure, and taken back where it does not lean any more."""
    monkeypatch.setattr(replay, "chances", lambda *_: Chances(dial, covered, -0.5, -9.0))
    unsure = {"tries": 1, "unsure": True}
    case = logged(covered=unsure | {"leans": "before", "leans_to_dial": "before"})
    about, found = read(case)
    where = "leans_to_dial" if sentence == LEANS_TO_DIAL else "leans"
    assert found == unsure | ({where: said_of(case, sentence)} if sentence else {})
    assert about == {}
    assert read(logged(covered={"tries": 1}))[1] == {"tries": 1}


@pytest.mark.parametrize(
    ("slow", "code", "flows", "tries"),
    [
        (True, "dial-down", 6, None),
        (True, "dial-down", 5, 1),
        (False, "dial-down", 5, None),
        (True, "less-power", 5, None),
        (True, "less-power", 3, 1),
    ],
)
def test_what_is_at_its_dial_stands_a_run_only_after_more_reports_of_a_slow_meter(slow, code, flows, tries):
    """Its beat may keep step with five of them."""
    events = [one for n in range(flows) for one in (600 + 300 * n, FLOWS)]
    book = {"at": NOW - 5000.0, "on": True, "watts": 1500.0, "w": [], "ev": events}
    more = {"meter": {"code": code}, "covered": {"tries": 1}}
    case = heater({"log": book, "late": flows, "proven": [[1500.0, 400.0]]}, more=more)
    show(case, "held", 1500.0, 1500.0, slow=slow)
    assert case.kept.notes["covered"].get("tries") == tries


@pytest.mark.parametrize(("dial", "unsure"), [(False, False), (True, True)])
def test_twice_early_and_late_back_is_surely_a_cover_where_the_log_says_so(dial, unsure):
    """Else it may be either."""
    case = logged(dial=dial, meter={"runs": 20, "cycles": [[NOW - 2000.0, 0.5, 900]]})
    gone = GONE | {"most": 500.0}
    case.notes("cut-out").update(gone=gone, proven=[[1500.0, 1000.0]])
    notes = show(case, "rose", 0.0, 1500.0)
    assert "gone" not in notes
    assert case.kept.notes["covered"]["unsure"] is unsure


def test_what_a_log_has_told_is_not_read_again():
    """Only news is."""
    case = logged(covered={"tries": 1, "unsure": True})
    case.kept.notes["cut-out"]["log"]["read"] = len(case.kept.notes["cut-out"]["log"]["ev"])
    assert read(case)[1] == {"tries": 1, "unsure": True}


@pytest.mark.parametrize(
    ("suspected", "flows", "kept"), [(False, True, False), (False, False, True), (True, True, True)]
)
def test_a_log_of_what_is_not_suspected_is_dropped_once_power_flows_on(suspected, flows, kept):
    """Four reports running; until then it may tell yet."""
    case = heater({"log": {"at": 0.0, "ev": [600, FLOWS] * (4 if flows else 3), "w": [], "watts": 600.0}},
                  more={"covered": {"tries": int(suspected)}})  # fmt: skip
    about, covered = read(case)
    assert ("log" in case.kept.notes["cut-out"]) is kept
    assert (about, covered) == ({}, {"tries": int(suspected)})


@pytest.mark.parametrize(("margin", "told"), [(5.0, True), (4.9, False)])
def test_a_log_of_a_cover_names_one_that_nothing_else_makes_suspect(monkeypatch, margin, told):
    """One that sheds little rests for so long under it that no two openings come soon enough."""
    monkeypatch.setattr(replay, "chances", lambda *_: Chances(0.0, margin, -9.0, -9.0))
    case = logged()
    _, covered = read(case)
    assert covered == ({} if not told else covered)
    assert (covered.get("evidence") == said_of(case, COVER)) is told
    monkeypatch.setattr(replay, "chances", lambda *_: Chances(9.0, 0.0, -9.0, -9.0))
    assert read(logged()) == ({}, {}), "a dial is asked for first"


@pytest.mark.parametrize(("free", "learned"), [(-3.0, False), (-2.9, True)])
def test_what_the_log_shows_to_open_early_is_not_taken_for_free_by_a_bound(monkeypatch, free, learned):
    """Reports far apart bound its warmth from above; the log says more, and goes on."""
    monkeypatch.setattr(replay, "chances", lambda *_: Chances(0.0, -1.0, free, -9.0))
    case = logged(meter={"runs": 20, "usual": 1500.0})
    case.notes("cut-out").update(gone=GONE | {"most": 900.0}, proven=[[1500.0, 1000.0]])
    notes = show(case, "rose", 0.0, 1500.0, slow=True)
    assert (len(case.kept.facts.trips) == 1) is learned
    assert ("log" not in notes) is learned
