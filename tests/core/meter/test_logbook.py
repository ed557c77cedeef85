"""What is kept of a meter's reports for the replay: from the first that shows nothing, and no more than it needs."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOW, case_of
from tests.stories.teller import study
from thermostatd.core.body.expected import room_share
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.meter import logbook
from thermostatd.core.meter.causes import FLOWS, NOTHING, OFF, ON
from thermostatd.core.meter.power import Power
from thermostatd.core.meter.replay import chances

PROVEN_AT, HOUR = NOW - 1000.0, 3600.0
OIL = study(heater="settings_watts = [600, 900, 1500]")


def report(at, nothing=False, *, proves=True, slow=False):
    """One report."""
    return Power(0.0 if nothing else 1500.0, at, True, proves, nothing, slow)


def begun(first=None, toml=None, facts=None, **body):
    """A case, and the log that its first report begins, or None: by default, power is gone, surely."""
    known = {"proven_at": PROVEN_AT, "proven": [81.26] * CANDIDATES, "full_watts": 1500.0}
    case = case_of(toml=toml, body=BodyMemory(**(known | body)), facts=facts or HeaterFacts())
    notes = {}
    logbook.reported(case, notes, first or report(NOW, nothing=True))
    return case, notes


def logged(*events, **more):
    """Notes with a log of these events."""
    return {"log": {"at": 0.0, "w": [], "on": True, "watts": 1500.0, "ev": list(events), **more}}


def reports(*whats):
    """Events of so many reports, ten minutes apart."""
    return [one for n, what in enumerate(whats) for one in (600 * (n + 1), what)]


def test_it_begins_at_the_last_sure_moment_with_the_first_that_shows_nothing():
    """With the warmth of then, the level, and the report."""
    assert begun()[1] == {
        "log": {
            "at": PROVEN_AT,
            "w": [81.3] * CANDIDATES,
            "on": True,
            "watts": 1500.0,
            "ev": [1000, NOTHING],
            "last": [NOW, NOTHING, True],
        }
    }


@pytest.mark.parametrize(
    ("body", "facts", "watts"),
    [
        ({}, HeaterFacts(level_watts=900.0), 1500.0),
        ({"full_watts": None}, HeaterFacts(level_watts=900.0), 900.0),
        ({"full_watts": None}, HeaterFacts(), 600.0),
    ],
)
def test_its_level_is_what_is_known_best(body, facts, watts):
    """As proven, else as last seen, else as the house file has it."""
    assert begun(facts=facts, **body)[1]["log"]["watts"] == watts


@pytest.mark.parametrize(
    ("first", "body", "kept"),
    [
        (report(NOW), {}, False),
        (report(NOW, nothing=True, proves=False), {}, False),
        (report(NOW, nothing=True, slow=True), {}, False),
        (report(NOW, nothing=True, slow=True), {"no_means": True}, True),
        (None, {"proven_at": None}, False),
        (None, {"proven": [80.0]}, False),
        (None, {"proven_at": NOW}, False),
        (None, {"proven_at": NOW - 0.5}, True),
        (None, {"proven_at": NOW - 7 * HOUR}, False),
        (None, {"proven_at": NOW - 7 * HOUR + 1.0}, True),
    ],
)
def test_it_begins_only_where_something_is_sure(first, body, kept):
    """Power that surely does not flow, told as it is, within seven hours of a warmth that is known."""
    assert ("log" in begun(first, **body)[1]) is kept


@pytest.mark.parametrize(("full", "kept"), [(900.0, True), (1500.0, False), (None, False)])
def test_none_is_kept_where_a_cut_out_would_leave_an_element(full, kept):
    """Nothing at all is its dial then, without a replay; the house file's level is its lowest."""
    assert ("log" in begun(toml=OIL, full_watts=full)[1]) is kept


def test_a_quick_meters_say_is_in_its_changes():
    """The last before a change and the first after it are written, each once."""
    case, notes = begun()
    for seconds, nothing in [(10, True), (20, True), (30, False), (40, True), (50, True)]:
        logbook.reported(case, notes, report(NOW + seconds, nothing))
    assert notes["log"]["ev"] == [1000, NOTHING, 1020, NOTHING, 1030, FLOWS, 1040, NOTHING]
    assert notes["log"]["last"] == [NOW + 50, NOTHING, False]


def test_a_slow_meters_say_is_in_each_report():
    """Early in a run a report is proof of power that flows, and never of power that does not."""
    case, notes = begun(report(NOW, nothing=True, slow=True), no_means=True)
    for at, nothing, proves in [(300, True, True), (600, False, False), (900, True, False)]:
        logbook.reported(case, notes, report(NOW + at, nothing, proves=proves, slow=True))
    assert notes["log"]["ev"] == [1000, NOTHING, 1300, NOTHING, 1600, FLOWS]
    assert "last" not in notes["log"]


@pytest.mark.parametrize(
    ("events", "at", "kept"),
    [
        (118, NOW, True),
        (120, NOW, False),
        (2, PROVEN_AT + 7 * HOUR, True),
        (2, PROVEN_AT + 7 * HOUR + 1, False),
    ],
)
def test_a_log_too_long_is_dropped(events, at, kept):
    """Sixty events, or seven hours; flowing power then begins no other."""
    case, notes = begun()
    notes["log"]["ev"] = [1, ON] * (events // 2)
    logbook.reported(case, notes, report(at))
    assert ("log" in notes) is kept


def test_in_the_place_of_one_too_long_nothing_begins_another():
    """At once, from the last sure moment of now."""
    case, notes = begun()
    notes["log"]["ev"] = [1, ON] * 60
    logbook.reported(case, notes, report(NOW + 10, nothing=True))
    assert notes["log"]["ev"] == [1010, NOTHING]


def test_the_relays_switchings_are_written_exactly():
    """After the last report of the run, where that was not yet written; what is no change is none."""
    case, notes = begun()
    logbook.reported(case, notes, report(NOW + 10, nothing=True))
    logbook.switched(notes, NOW + 15, on=True)
    logbook.switched(notes, NOW + 20.4, on=False)
    assert notes["log"]["ev"] == [1000, NOTHING, 1010, NOTHING, 1020, OFF]
    assert notes["log"]["on"] is False
    assert "last" not in notes["log"]
    logbook.switched(notes, NOW + 25, on=False)
    logbook.switched(notes, NOW + 30, on=True)
    assert notes["log"]["ev"][6:] == [1030, ON]
    assert notes["log"]["on"] is True


def test_a_report_that_was_written_is_not_written_again_at_the_switching():
    """Once is enough."""
    _, notes = begun()
    logbook.switched(notes, NOW + 20, on=False)
    assert notes["log"]["ev"] == [1000, NOTHING, 1020, OFF]


def test_without_a_log_nothing_is_written_or_said():
    """A switching begins none, there is nothing to drop, no news, and power flows as far as is known."""
    notes = {}
    logbook.switched(notes, NOW, on=True)
    logbook.drop(notes)
    assert not logbook.is_news(notes)
    assert logbook.read(case_of(), notes) is None
    assert logbook.flows_on(notes)
    assert notes == {}
    notes = logged()
    logbook.drop(notes)
    assert notes == {}


def test_it_is_news_once_for_each_event():
    """Asked again it says no more, until something is added."""
    notes = logged(*reports(NOTHING))
    assert logbook.is_news(notes)
    assert not logbook.is_news(notes)
    notes["log"]["ev"] += [900, OFF]
    assert logbook.is_news(notes)


@pytest.mark.parametrize(
    ("whats", "enough"),
    [
        ([NOTHING, FLOWS], False),
        ([NOTHING, FLOWS, OFF, ON], False),
        ([NOTHING, OFF, ON, FLOWS, FLOWS], True),
        ([NOTHING, NOTHING, FLOWS], True),
        ([NOTHING, NOTHING, NOTHING], False),
        ([FLOWS, FLOWS, NOTHING], False),
    ],
)
def test_it_is_read_once_three_reports_show_that_power_came_back(whats, enough):
    """What never came back is for others to name; then the replay is asked with all that is in it."""
    body = BodyMemory(
        store_joules=30_000.0,
        lessons=[Lesson(0.0, [130.0] * CANDIDATES, [140.0] * CANDIDATES)],
        opens=[135.0] * CANDIDATES,
        weights=[1.0] * CANDIDATES,
    )
    case = case_of(body=body, air=26.0)
    events = reports(*whats)
    found = logbook.read(case, logged(*events, w=[60.0] * CANDIDATES))
    if not enough:
        assert found is None
        return
    assert found == chances(body, [60.0] * CANDIDATES, events, 1500.0, room_share(case))


@pytest.mark.parametrize(
    ("whats", "on"),
    [
        ([FLOWS] * 4, True),
        ([FLOWS] * 3, False),
        ([NOTHING, *[FLOWS] * 4], True),
        ([NOTHING, *[FLOWS] * 3], False),
        ([FLOWS, FLOWS, OFF, ON, FLOWS, FLOWS], False),
    ],
)
def test_power_flows_on_after_four_reports_running(whats, on):
    """Fewer may have missed what happened between."""
    assert logbook.flows_on(logged(*reports(*whats))) is on


def counted(*runs):
    """Whether power flows past a dial after runs of reports: seconds into the run, below zero if they show nothing."""
    notes = {}
    for run in runs:
        for at in run:
            logbook.count_late(notes, report(NOW + abs(at), nothing=at < 0, slow=True), NOW)
    return logbook.flows_past_a_dial(notes)


@pytest.mark.parametrize(
    ("run", "past"),
    [
        ([n * 300 for n in range(2, 8)], True),
        ([n * 300 for n in range(2, 7)], False),
        ([599, *[n * 300 for n in range(2, 7)]], False),
    ],
)
def test_of_one_at_its_dial_power_flows_on_after_six_reports_late_in_its_runs(run, past):
    """Ten minutes after a switching or later, with a log or without: reports may keep step with a dial's beat, but not
    from run to run."""
    assert not logbook.flows_past_a_dial({})
    assert counted(run) is past


def test_early_reports_of_a_run_and_those_before_nothing_do_not_count():
    """Each run begins cold enough to flow; a report of nothing begins the count anew."""
    run = [700, 1000, 1300]
    assert counted(run, run)
    assert not counted(run, [100, 400, 599])
    assert not counted(run, [-1600], run)
    assert counted([-600], run, run)


@pytest.mark.parametrize(
    ("whats", "so"),
    [
        ([NOTHING] * 4, False),
        ([NOTHING] * 5, True),
        ([FLOWS, *[NOTHING] * 5], True),
        ([FLOWS, *[NOTHING] * 4], False),
        ([*[NOTHING] * 5, FLOWS], False),
        ([NOTHING, NOTHING, OFF, ON, NOTHING, NOTHING, NOTHING], False),
    ],
)
def test_nothing_five_times_running_says_no_more(whats, so):
    """The reports may keep step with what they should show; a cover's off time is often told by fewer."""
    assert logbook.says_no_more(logged(*reports(*whats))) is so


def test_its_length_is_told_in_hours_and_reports():
    """The relay's switchings are no reports."""
    assert logbook.length(logged(*reports(OFF, ON, FLOWS, NOTHING, FLOWS, FLOWS))) == (1.0, 4)
