"""Kinds that stand their label: what takes power from one that has stood it is a cover or its dial. All invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.core.guard.cases import NOW, now_at
from tests.core.meter import watching
from tests.core.meter.watching import OIL, PANEL, show
from thermostatd.core.facts import TripFact
from thermostatd.core.meter import interrupted, run, watch
from thermostatd.core.meter.causes import Chances
from thermostatd.core.meter.diagnosis import cover, dial, elements, suspicion
from thermostatd.core.meter.power import Power

STOOD = {"proven": [[600.0, 585.0]], "runs": 9}
SETTINGS = 'kind = "panel"\nsettings_watts = [300, 600]'
GONE = {"before": 600.0, "most": 565.0, "at": NOW - 60.0}
FINE = 57.0  # half a panel's time constant, s
EXACT = Power(600.0, NOW, True, True, False, False)


def heater(notes=(), *, meter_period=FINE, **more):
    """A heater whose meter speaks often enough to show an opening of so small a body."""
    return watching.heater(notes, meter_period=meter_period, **more)


@pytest.mark.parametrize(
    ("toml", "proven", "stands"),
    [
        (PANEL, [[600.0, 570.0]], True),
        (PANEL, [[600.0, 569.0]], False),
        (PANEL, [[300.0, 300.0]], False),
        (PANEL, [], False),
        (None, [[600.0, 600.0]], False),
    ],
)
def test_it_stands_what_it_has_stood_for_as_long_as_it_grew_warmer(toml, proven, stands):
    """Nineteen twentieths of the power and more was given to the room; an oil-filled heater may yet open."""
    case = heater({"proven": proven}, toml=toml)
    assert elements.is_interrupted(case, {"before": 600.0, "most": 300.0}, exact=True) is stands


def test_a_fall_of_what_it_stood_is_no_opening_to_learn_from():
    """However long it had run; it rests, and a person looks."""
    case = heater(STOOD, toml=PANEL)
    show(case, "fell", 600.0, 310.0, (555.0, 565.0))
    assert case.kept.facts.trip_count == 0
    told = case.kept.notes["covered"]
    assert (told["tries"], told["unsure"]) == (1, True)
    assert "power fell from 600 W to 310 W" in told["evidence"]
    assert "does not tell yet" in told["evidence"]


def test_once_it_is_surely_a_cover_nothing_else_is_said():
    """The sentence keeps to what is known."""
    case = heater(STOOD, toml=PANEL, more={"covered": {"tries": 1, "unsure": False}})
    show(case, "fell", 600.0, 310.0, (555.0, 565.0))
    told = case.kept.notes["covered"]
    assert (told["tries"], told["unsure"]) == (2, False)
    assert "does not tell yet" not in told["evidence"]


ON_BOTH = {"proven": [[600.0, 585.0], [302.0, 300.0]]}


@pytest.mark.parametrize(
    ("toml", "stood"), [(PANEL, ON_BOTH), (PANEL.replace('kind = "panel"', SETTINGS), {})]
)
@pytest.mark.parametrize("most", [400.0, 565.0, 585.0])
def test_a_fall_to_one_of_its_settings_may_be_its_selector(toml, stood, most):
    """Nobody is alarmed for a hand on it, however warm it was, whether its file tells them or it stood them before."""
    case = heater(STOOD | stood, toml=toml, more={"meter": {"usual": 600.0, "runs": 9}})
    show(case, "fell", 600.0, 300.0, (most - 10.0, most))
    assert not case.kept.notes.get("covered")
    assert case.kept.facts.trip_count == 0
    case.notes("cut-out").update(cold=0.0)
    show(case, "started", 300.0, 300.0)
    assert case.kept.notes["meter"]["code"] == "less-power"
    assert not case.kept.notes.get("covered")


def falls_and_is_back(case, after, warmth):
    """Power falls to another level, and once the body has cooled it is back in the same run."""
    show(case, "fell", 600.0, after, warmth)
    assert case.kept.facts.trip_count == 0
    show(case, "rose", after, 600.0, (340.0, 350.0))


def test_one_of_its_settings_that_comes_back_was_no_hand():
    """Something lies on it, or its dial is turned down."""
    case = heater(STOOD | ON_BOTH, toml=PANEL)
    falls_and_is_back(case, 300.0, (555.0, 565.0))
    assert case.kept.facts.trip_count == 0
    assert case.kept.notes["covered"]["tries"] == 1


def test_a_level_its_cut_out_was_seen_to_leave_counts_at_once():
    """As warm as it gets, it need not come back first."""
    case = heater(STOOD, toml=PANEL)
    case.kept.facts.trips.append(TripFact(0.0, 600.0, 600.0, 310.0, 585.0))
    show(case, "fell", 600.0, 310.0, (580.0, 584.0))
    assert case.kept.facts.trip_count == 1


@pytest.mark.parametrize(("most", "learned"), [(567.0, 0), (568.0, 1)])
def test_one_that_only_just_stands_it_may_open_once_it_is_warm(most, learned):
    """At 97 % of what it stood."""
    case = heater(STOOD, toml=PANEL)
    falls_and_is_back(case, 310.0, (555.0, most))
    assert case.kept.facts.trip_count == learned
    gone = GONE | {"most": most, "on_at": NOW - 600.0, "seconds": 300.0, "warmth": 560.0, "after": 0.0}
    case = heater(STOOD | {"gone": gone}, toml=PANEL)
    show(case, "rose", 0.0, 600.0)
    assert case.kept.facts.trip_count == learned


@pytest.mark.parametrize(
    ("kind", "period", "shows"),
    [("panel", 57.0, True), ("panel", 58.0, False), ("convector", 36.0, True), ("convector", 38.0, False)],
)
def test_a_meter_shows_an_opening_if_it_speaks_twice_while_the_body_warms(kind, period, shows):
    """2.5 J/(K·W) by 60 K and 1.2 J/(K·W) by 80 K, over 1.3: 115 and 74 s (MAKES)."""
    case = heater(toml=PANEL.replace("panel", kind), meter_period=period)
    assert elements.shows_openings(case) is shows


@pytest.mark.parametrize(("most", "tries"), [(497.0, 1), (498.0, None)])
def test_reports_further_apart_may_have_hidden_an_opening(most, tries):
    """Then what it stood is less sure, and it has to be colder by a seventh."""
    case = heater(STOOD, toml=PANEL, meter_period=60.0)
    show(case, "fell", 600.0, 310.0, (400.0, most))
    assert case.kept.notes.get("covered", {}).get("tries") == tries


def test_one_that_never_stood_it_is_learned_from():
    """Its own dial may have done so from the first day."""
    case = heater({"proven": [[600.0, 400.0]]}, toml=PANEL)
    falls_and_is_back(case, 310.0, (380.0, 390.0))
    assert case.kept.facts.trip_count == 1


@pytest.mark.parametrize(
    ("most", "code", "tries"),
    [(565.0, None, 1), (280.0, None, 1), (250.0, "dial-down", None)],
)
def test_soon_back_is_either_but_for_a_dial_far_down(most, code, tries):
    """Under nine twentieths of what it stood no cover makes a body open."""
    case = heater(STOOD, toml=PANEL, more={"meter": {"runs": 9, "cycles": [[NOW - 500.0, 0.42, 60.0]]}})
    dial.came_back(case, EXACT, GONE | {"most": most}, 60.0, 585.0)
    assert case.kept.notes["meter"].get("code") == code
    assert case.kept.notes.get("covered", {}).get("tries") == tries
    assert tries is None or case.kept.notes["covered"]["unsure"] is True


def test_gone_and_back_once_is_nothing_yet():
    """No opening is learned of it, and nothing is told."""
    gone = GONE | {"on_at": NOW - 600.0, "seconds": 300.0, "warmth": 585.0, "after": 0.0}
    case = heater(STOOD | {"gone": gone}, toml=PANEL)
    show(case, "rose", 0.0, 600.0)
    assert case.kept.facts.trip_count == 0
    assert not case.kept.notes.get("covered")
    assert len(case.kept.notes["meter"]["cycles"]) == 1


@pytest.mark.parametrize(
    ("toml", "chances", "tries", "asked"),
    [
        (PANEL, Chances(9.0, 0.0, 0.0, 0.0), 1, False),
        (PANEL, Chances(0.0, 9.0, 0.0, 0.0), 1, False),
        (PANEL, Chances(0.0, 0.0, 9.0, 0.0), None, False),
        (PANEL, Chances(0.0, 9.0, 0.0, 0.0), 1, True),
        (OIL, Chances(9.0, 0.0, 0.0, 0.0), None, False),
    ],
)
def test_reports_far_apart_tell_a_quick_body_is_not_free_and_no_more(monkeypatch, toml, chances, tries, asked):
    """Neither how early it went nor how soon it came back lies between reports of five minutes."""
    monkeypatch.setattr(interrupted.logbook, "is_news", lambda notes: True)
    monkeypatch.setattr(interrupted.logbook, "read", lambda case, notes: chances)
    monkeypatch.setattr(interrupted.logbook, "length", lambda notes: (2.0, 20))
    case = heater(STOOD, toml=toml, more={"covered": {"tries": 1, "unsure": True}} if asked else {})
    interrupted.judge(case, case.notes("cut-out"))
    assert case.kept.notes.get("covered", {}).get("tries") == tries
    assert tries is None or case.kept.notes["covered"]["unsure"] is True


def test_only_a_known_cover_is_sure():
    """Nothing told, or told with a doubt, is not."""
    for notes, sure in (({}, False), ({"tries": 1, "unsure": True}, False), ({"tries": 1}, True)):
        assert cover.is_sure(heater(more={"covered": notes})) is sure


@pytest.mark.parametrize(
    ("quick", "between", "gone"),
    [(True, 0.0, True), (True, 18.0, True), (True, 19.0, False), (True, 300.0, False), (False, 0.0, False)],
)
def test_one_report_of_nothing_between_two_of_its_level_is_a_small_bodys_opening(quick, between, gone):
    """A larger one is not back so soon: there one report is no proof."""
    notes = {"on_at": 0.0, "level": 600.0, "top": 600.0, "last_at": 100.0, "warm_at": 100.0, "warmth": 300.0}
    seen = []
    for at, watts in ((110.0, between), (150.0, 600.0)):
        power = Power(watts, at, True, True, watts <= 18.0, False)
        seen += [(one.what, one.lo_at, one.hi_at) for one in run.hear(notes, power, (), 115.0, quick)]
    told = [("gone", 100.0, 110.0), ("rose", 110.0, 150.0)] if gone else []
    assert seen == [*told, ("held", 150.0, 150.0)]
    assert notes["level"] == 600.0
    assert "other" not in notes


def test_two_blinks_while_it_warms_are_told():
    """As two openings are."""
    case = heater(STOOD | {"level": 600.0, "top": 600.0, "last_at": NOW, "warm_at": NOW, "warmth": 300.0}, toml=PANEL)
    tell = {"told_on": True, "shown_on": True, "on_since": NOW - 600.0, "volts": 230.0}
    for name, value in tell.items():
        setattr(case.kept, name, value)
    for at, watts in ((10.0, 0.0), (40.0, 600.0), (70.0, 0.0), (100.0, 600.0)):
        case.kept.watts, case.kept.watts_at = watts, NOW + at
        watch.follow(replace(case, now=now_at(steady=NOW + at)))
    assert case.kept.notes["covered"]["unsure"] is True
    assert case.kept.facts.trip_count == 0


def test_how_often_a_small_body_rested_is_kept_when_it_seems_free():
    """A report between two of its openings may look like a long run."""
    case = heater(toml=PANEL, more={"covered": {"tries": 2, "at": 5.0}})
    suspicion.stood(case, 0.95)
    assert case.kept.notes["covered"] == {"tried": 2, "free_at": NOW}
