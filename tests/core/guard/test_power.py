"""Interlocks that go by what a plug and its meter tell, at the very edges of their bounds."""

import pytest

from tests.core.guard.cases import BLIND, METERED, NOW, SIMULATED, case_of, good, on_trial, trips
from tests.stories.teller import PANEL, SPOT, study
from thermostatd.core.facts import HeaterFacts, TripFact
from thermostatd.core.guard import (
    bad_socket,
    covered,
    cut_out,
    drawing_nothing,
    drawing_while_off,
    opens_early,
    warm_plug,
)
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter.diagnosis import naming

OFF = {"told_on": False, "off_since": NOW - 5000.0}


def welded(watts):
    """What is said of power after OFF."""
    return trips(
        "drawing-while-off",
        loud=True,
        latched=True,
        trouble=True,
        watts=watts,
        evidence=f"{watts:.0f} W measured after OFF.",
    )


@pytest.mark.parametrize(
    ("over", "watts", "latches"), [(1, 600.0, False), (2, 600.0, True), (2, None, False), (3, 0.0, True)]
)
def test_two_reports_of_power_after_off_latch(over, watts, latches):
    """Two reports over the floor, and the latch keeps what was measured."""
    case = case_of(off_reports_over=over, watts=watts)
    assert drawing_while_off.judge(case) == (welded(watts) if latches else good("drawing-while-off"))
    assert ("drawing-while-off" in case.kept.notes) is latches
    case.kept.off_reports_over, case.kept.watts = 0, 1.0
    assert drawing_while_off.judge(case).latched is latches


STANDS = OFF | {"shown_on": False, "watts": 600.0, "watts_at": NOW - 900.0, "meter_period": 300.0}


@pytest.mark.parametrize(
    ("change", "latches"),
    [
        ({}, True),
        ({"watts_at": NOW - 899.0}, False),
        ({"meter_period": 301.0}, False),
        ({"told_on": True, "on_since": 1.0}, False),
        ({"meter_period": 301.0, "watts_at": NOW - 903.0}, True),
        ({"reachable": False}, False),
        ({"watts": 18.0}, False),
        ({"watts": 18.1}, True),
        ({"heard": False}, False),
        ({"watts_at": None}, False),
        ({"watts": None}, False),
        ({"off_since": NOW - 900.0}, False),
        ({"off_since": NOW - 901.0}, True),
        ({"shown_on": True}, True),
        ({"shown_on": True, "off_since": NOW - 120.0, "watts_at": NOW - 60.0}, False),
        ({"shown_on": None}, True),
    ],
)
def test_the_last_word_of_a_meter_that_speaks_only_of_changes_stands(change, latches):
    """Newer than OFF, a quarter of an hour and three periods old, from a plug that is there."""
    case = case_of(**STANDS | change)
    watts = case.kept.watts
    assert drawing_while_off.judge(case) == (welded(watts) if latches else good("drawing-while-off"))


HOT = {"warm_at": NOW}


@pytest.mark.parametrize(
    ("celsius", "trail", "latches"),
    [
        (70.0, [], True),
        (69.9, [], False),
        (45.0, [[NOW - 600.0, 25.0]], True),
        (44.9, [[NOW - 600.0, 20.0]], False),
        (50.0, [[NOW - 601.0, 25.0]], False),
        (50.0, [[NOW - 500.0, 30.1]], False),
        (50.0, [[NOW - 500.0, 30.0]], True),
        (50.0, [[NOW - 500.0, 40.0], [NOW - 300.0, 30.0], [NOW - 100.0, 41.0]], True),
        (46.0, [[NOW - 60.0, 46.0]], False),
    ],
)
def test_a_hot_plug_or_one_that_warms_fast_latches(celsius, trail, latches):
    """70 °C, or 20 K in ten minutes to 45 °C or more; held against the coolest of those minutes."""
    case = case_of(warm_celsius=celsius, notes={"warm-plug": {"trail": trail, "at": NOW - 60.0}}, **HOT)
    evidence = f"It measured {celsius:.0f} °C."
    expected = trips("warm-plug", loud=True, latched=True, trouble=True, celsius=celsius, evidence=evidence)
    assert warm_plug.judge(case) == (expected if latches else good("warm-plug"))
    case.kept.warm_celsius, case.kept.warm_at = 20.0, NOW + 60.0
    assert warm_plug.judge(case).latched is latches


def test_the_trail_of_a_plugs_warmth_is_kept_at_half_minutes_for_ten_minutes():
    """A point each 30 s, older ones dropped after 600 s; one report is taken in once."""
    old = [[NOW - 601.0, 25.0], [NOW - 600.0, 26.0], [NOW - 30.0, 30.0]]
    case = case_of(warm_celsius=31.0, notes={"warm-plug": {"trail": old}}, **HOT)
    warm_plug.judge(case)
    assert case.kept.notes["warm-plug"] == {
        "trail": [[NOW - 600.0, 26.0], [NOW - 30.0, 30.0], [NOW, 31.0]],
        "at": NOW,
    }
    case.kept.warm_celsius = 90.0
    assert warm_plug.judge(case) == good("warm-plug")
    first = case_of(warm_celsius=31.0, **HOT)
    assert warm_plug.judge(first) == good("warm-plug")
    assert first.kept.notes["warm-plug"]["trail"] == [[NOW, 31.0]]
    case = case_of(warm_celsius=31.0, notes={"warm-plug": {"trail": [[NOW - 29.0, 30.0]]}}, **HOT)
    warm_plug.judge(case)
    assert case.kept.notes["warm-plug"]["trail"] == [[NOW - 29.0, 30.0]]


@pytest.mark.parametrize(
    "kept", [{"warm_celsius": None, "warm_at": NOW}, {"warm_celsius": 90.0, "warm_at": None}, {}]
)
def test_a_plug_that_tells_no_warmth_is_not_judged_by_it(kept):
    """No value or no time, no judgement."""
    assert warm_plug.judge(case_of(**kept)) == good("warm-plug")


RUN = {
    "told_on": True,
    "on_since": NOW - 5000.0,
    "shown_on": True,
    "watts": 0.0,
    "watts_at": NOW,
    "meter_period": 10.0,
}
NEVER = "drawing-nothing"


def nothing(notes=None, **change):
    """A run in which the meter shows nothing."""
    case = case_of(notes={NEVER: dict(notes or {})}, **RUN | change)
    return case, drawing_nothing.judge(case)


@pytest.mark.parametrize(
    ("before", "pause", "latched", "evidence"),
    [
        (0, 600.0, False, "Switched on without power."),
        (1, 1800.0, False, "Switched on 2 times without power."),
        (2, 3600.0, False, "Switched on 3 times without power."),
        (3, 3600.0, True, "Switched on 4 times without power."),
    ],
)
def test_each_retry_without_power_waits_longer_and_the_fourth_latches(before, pause, latched, evidence):
    """Ten, thirty, sixty minutes; after three retries the owner is waited for."""
    case, said = nothing({"nothing_count": 1, "tries": before})
    assert said == trips(NEVER, latched=latched, trouble=True, evidence=evidence)
    notes = case.kept.notes[NEVER]
    assert notes == {
        "judged_at": NOW,
        "nothing_count": 0,
        "tries": before + 1,
        "latched": latched,
        "pause_until": NOW + pause,
    }


@pytest.mark.parametrize(
    "change",
    [
        {"told_on": False, "off_since": 0.0},
        {"shown_on": False},
        {"watts": None},
        {"watts_at": NOW - 5000.0 + 59.0},
        {"notes": {"nothing_count": 0}},
        {"notes": {"nothing_count": 1, "judged_at": NOW}},
        {"notes": {"nothing_count": 1, "drew_at": NOW - 2399.0}},
        {"notes": {"nothing_count": 1, "drew_at": NOW - 5399.0}, "meter_period": 62.0},
    ],
)
def test_what_proves_no_lack_of_power_trips_nothing(change):
    """Not ON, shown OFF, no or no settled report, the first report, one judged already, and a body that may cool."""
    case, said = nothing(**({"notes": {"nothing_count": 1}} | change))
    assert said == good(NEVER)
    assert "tries" not in case.kept.notes[NEVER]


@pytest.mark.parametrize(
    ("drew", "period", "trips_now"), [(2400.0, 61.0, True), (2400.0, 61.1, False), (5400.0, 62.0, True)]
)
def test_a_body_has_forty_minutes_to_cool_and_ninety_on_a_slow_meter(drew, period, trips_now):
    """To the second, and by the meter's own period."""
    assert nothing({"nothing_count": 1, "drew_at": NOW - drew}, meter_period=period)[1].tripped is trips_now


@pytest.mark.parametrize(("watts", "heated"), [(600.0, True), (18.1, True), (18.0, False)])
def test_a_contact_that_stuck_heated_the_body_too(watts, heated):
    """Drawing while told OFF, its cut-out may be open for forty minutes more: nothing then is no lack of power."""
    case, said = nothing({"nothing_count": 1}, watts=watts, told_on=False)
    assert said == good(NEVER)
    assert case.kept.notes[NEVER].get("drew_at") == (NOW if heated else None)


def test_power_on_a_retry_forgets_all():
    """Over the floor: the count, the tries and the short runs are gone; the time of power is kept."""
    case, said = nothing({"nothing_count": 1, "tries": 2, "early_runs": 3}, watts=18.1)
    assert said == good(NEVER)
    kept = {"judged_at": NOW, "drew_at": NOW, "nothing_count": 0, "early_runs": 0, "tries": 0, "early": None}
    assert case.kept.notes[NEVER] == {name: value for name, value in kept.items() if name != "early"}
    assert nothing({"nothing_count": 1}, watts=18.0)[1].tripped


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        (
            {"tries": 1, "pause_until": NOW + 1.0},
            trips(NEVER, trouble=True, evidence="Switched on without power."),
        ),
        ({"tries": 1, "pause_until": NOW}, on_trial(NEVER, "Switched on without power.")),
        ({"tries": 2, "pause_until": NOW}, on_trial(NEVER, "Switched on 2 times without power.")),
        (
            {"latched": True, "tries": 4, "pause_until": 0.0},
            trips(NEVER, latched=True, trouble=True, evidence="Switched on 4 times without power."),
        ),
        ({}, good(NEVER)),
    ],
)
def test_a_pause_holds_to_its_second_and_the_trouble_until_power_is_seen(notes, expected):
    """Off in the pause, on trial after it, latched for good."""
    assert nothing(notes, told_on=False, off_since=0.0)[1] == expected

SOON = {"on_since": NOW - 20.0, "meter_told": NOW - 20.0, "watts": 18.1}


@pytest.mark.parametrize(
    ("change", "draws"),
    [({}, True), ({"watts": 18.0}, False), ({"meter_told": NOW - 900.0}, False), ({"meter_told": None}, False)],
)
def test_power_told_at_once_after_nothing_is_power(change, draws):
    """A meter that speaks on change says so once and never again, however early that was; what it still said of the run
    before proves nothing."""
    case, said = nothing({"nothing_count": 1, "tries": 1}, **SOON | change)
    assert case.kept.notes[NEVER].get("drew_at") == (NOW if draws else None)
    assert case.kept.notes[NEVER]["tries"] == (0 if draws else 1)
    assert said.trouble is not draws



EARLY = {"on_since": NOW - 100.0, "meter_period": 300.0}


@pytest.mark.parametrize(
    ("runs", "change", "counted", "tripped"),
    [
        (2, {}, 3, False),
        (3, {}, 3, True),
        (3, {"on_since": NOW - 59.0}, 3, False),
        (2, {"on_since": NOW - 60.0}, 3, False),
        (3, {"meter_period": 61.0, "on_since": NOW - 60.5}, 3, False),
        (3, {"meter_period": 61.1, "on_since": NOW - 60.5}, 3, True),
        (0, {}, 1, False),
    ],
)
def test_short_runs_on_a_slow_meter_prove_it_together(runs, change, counted, tripped):
    """Nothing in four runs, each a minute on, that were too short for the meter to settle."""
    case, said = nothing({"early_runs": runs} if runs else {}, **EARLY | change)
    assert (said.tripped, case.kept.notes[NEVER]["early_runs"]) == (tripped, counted)
    assert case.kept.notes[NEVER].get("tries", 0) == int(tripped)


def test_a_short_run_counts_once_and_power_in_one_forgets_them():
    """One run is one proof however many reports it brings; power in one ends the doubt; a cooling body has time."""
    case, _ = nothing({"early_runs": 1, "early_at": NOW - 100.0}, **EARLY)
    assert case.kept.notes[NEVER]["early_runs"] == 1
    case, said = nothing({"early_runs": 3, "tries": 2}, watts=18.1, **EARLY)
    assert case.kept.notes[NEVER] == {"judged_at": NOW, "drew_at": NOW, "early_runs": 0, "tries": 0}
    assert said == good(NEVER)
    assert nothing({"early_runs": 3}, watts=18.0, **EARLY)[1].tripped
    assert not nothing({"early_runs": 3, "drew_at": NOW - 5399.0}, **EARLY)[1].tripped
    assert nothing({"early_runs": 3, "drew_at": NOW - 5400.0}, **EARLY)[1].tripped
    case, _ = nothing({"early_runs": 5}, **EARLY)
    assert case.kept.notes[NEVER]["early_at"] == NOW - 100.0


@pytest.mark.parametrize(
    ("notes", "latched", "tripped"),
    [
        ({"tries": 1, "at": NOW - 20000.0}, False, False),
        ({"tries": 1, "at": 0.0, "pause_until": NOW + 1.0}, False, True),
        ({"tries": 1, "at": 0.0, "pause_until": NOW}, False, False),
        ({"tries": 2, "at": NOW - 14399.0}, False, False),
        ({"tries": 2, "at": NOW - 14400.0}, True, True),
        ({"tries": 2, "at": NOW - 1.0, "first": NOW - 14400.0}, True, True),
        ({"tries": 1, "at": NOW, "latched": True}, True, True),
        ({"tries": 3, "at": 0.0, "first": NOW - 1.0}, False, False),
    ],
)
def test_a_covered_heater_pauses_then_waits_for_the_owner(notes, latched, tripped):
    """Off in its pause; early twice and unsolved for four hours, it waits for the owner; loud all the while."""
    case = case_of(notes={"covered": dict(notes, evidence="It opened early.")})
    said = covered.judge(case)
    expected = trips("covered", latched=latched, trouble=True, loud=True, evidence="It opened early.")
    assert said == (expected if tripped else on_trial("covered", "It opened early.", loud=True))
    assert case.kept.notes["covered"]["first"] == notes.get("first", notes["at"])


@pytest.mark.parametrize("unsure", [True, False])
def test_what_may_be_its_dial_too_is_called_so_and_by_one_name_only(unsure):
    """Unsure, it is `opens-early` and not `covered`; sure, the other way round; the pauses are the same."""
    evidence = "It opened early."
    note = {"tries": 1, "at": 0.0, "pause_until": NOW + 1.0, "evidence": evidence, "unsure": unsure}
    said = {one.CODE: one.judge(case_of(notes={"covered": dict(note)})) for one in (covered, opens_early)}
    name, other = ("opens-early", "covered") if unsure else ("covered", "opens-early")
    assert said[name] == trips(name, latched=False, trouble=True, loud=True, evidence=evidence)
    assert said[other] == good(other)


@pytest.mark.parametrize(
    ("tries", "since", "leans", "name", "says"),
    [
        (2, 14400.0, "Rather a cover.", "covered", "Rather a cover."),
        (2, 14400.0, None, "opens-early", "It opened early."),
        (2, 14399.0, "Rather a cover.", "opens-early", "It opened early."),
        (1, 14400.0, "Rather a cover.", "opens-early", "It opened early."),
    ],
)
@pytest.mark.parametrize("order", [(covered, opens_early), (opens_early, covered)])
def test_what_waits_for_the_owner_is_called_what_it_rather_looks_like(tries, since, leans, name, says, order):
    """Once nothing more will be told: a cover, if it leans to that; by one name only, whichever is asked first."""
    note = {"tries": tries, "at": NOW - since, "evidence": "It opened early.", "unsure": True, "leans": leans}
    case = case_of(notes={"covered": note})
    said = {one.CODE: one.judge(case) for one in order}
    said |= {one.CODE: one.judge(case) for one in order}  # from the next tick on, whatever the first was
    assert said.pop(name).evidence == says
    assert said == {code: good(code) for code in said}


@pytest.mark.parametrize(("since", "told"), [(14400.0, True), (14399.0, False)])
def test_what_rather_looks_like_the_dial_is_told_so_and_stays_off_until_someone_has_looked(since, told):
    """Beside `opens-early`: if it is a cover after all, nothing heats under it."""
    note = {
        "tries": 2,
        "at": NOW - since,
        "evidence": "It opened early.",
        "unsure": True,
        "leans_to_dial": "Rather.",
    }
    case = case_of(notes={"covered": note})
    said = opens_early.judge(case)
    assert (said.code, said.evidence, said.latched, said.tripped) == (
        "opens-early",
        "It opened early.",
        told,
        told,
    )
    assert covered.judge(case) == good("covered")
    advised = naming.advice(case.kept)
    assert (advised and (advised.code, advised.evidence)) == (("dial-down", "Rather.") if told else None)
    case.kept.notes["meter"] = {}
    opens_early.judge(case)
    assert naming.advice(case.kept) is None or not told, "once"


@pytest.mark.parametrize(
    "notes", [{}, {"covered": {}}, {"covered": {"tries": 0, "at": 0.0, "evidence": "-"}}]
)
def test_a_heater_that_never_opened_early_is_not_covered(notes):
    """Nothing noted, nothing said, nothing written."""
    case = case_of(notes={name: dict(value) for name, value in notes.items()})
    assert covered.judge(case) == good("covered")
    assert case.kept.notes == notes


@pytest.mark.parametrize(
    ("ago", "known", "told"),
    [
        (0.0, True, True),
        (43199.0, True, True),
        (43200.0, True, False),
        (-1.0, True, False),
        (10.0, False, False),
        (None, True, False),
    ],
)
def test_an_opened_cut_out_is_told_for_half_a_day(ago, known, told):
    """Twelve hours, from the opening on; and what it says is the last opening."""
    trips_known = [TripFact(0.0, 60.0, 1.0, 2.0)] * 2 * known + [TripFact(0.0, 3000.0, 1500.0, 588.0)] * known
    notes = {"cut-out": {} if ago is None else {"tripped_at": NOW - ago}}
    said = cut_out.judge(case_of(notes=notes, facts=HeaterFacts(trips=trips_known), **OFF))
    evidence = "After 50 min on, power fell from 1500 W to 588 W: its own cut-out opened."
    assert said == (on_trial("cut-out", evidence) if told else good("cut-out"))


def sagging(notes=None, nominal=230, **change):
    """A settled report of 2300 W under which ten volts are lost."""
    toml = study(house=f"mains_volts = {nominal}", heater="settings_watts = [600, 2300]")
    kept = {
        "told_on": True,
        "on_since": NOW - 5000.0,
        "watts": 2200.0,
        "watts_at": NOW,
        "volts": 220.0,
        "meter_period": 10.0,
    }
    case = case_of(toml=toml, notes={"bad-socket": dict(notes or {})}, **kept | change)
    return case, bad_socket.judge(case)


STEPS = [10.0, 10.0, 1.0] * 3
LAST = [230.0, 0.0, NOW - 60.0]
LOST = (
    "The voltage falls by 10.0 V when the heater comes on: 1.0 ohm are lost on the way, 0.3 are usual here."
)


def test_a_contact_that_loses_volts_latches_with_what_was_measured():
    """The fourth switching that loses ten volts latches; the steps are forgotten, and the evidence stays."""
    case, said = sagging({"row": STEPS, "last": LAST, "judged_at": NOW - 60.0})
    expected = trips("bad-socket", loud=True, latched=True, trouble=True, evidence=LOST)
    assert said == expected
    assert case.kept.notes["bad-socket"] == {
        "row": [],
        "last": [220.0, 10.0, NOW],
        "judged_at": NOW,
        "latched": True,
        "evidence": LOST,
    }
    assert bad_socket.judge(case) == expected


@pytest.mark.parametrize(
    "change",
    [
        {"watts_at": NOW - 60.0},
        {"volts": None},
        {"on_since": NOW - 30.0},
        {"nominal": 120},
    ],
)
def test_a_report_judged_already_or_not_settled_and_a_plug_without_volts_prove_nothing(change):
    """One report is judged once, a minute after the switching at the soonest, and at the house's own voltage."""
    case, said = sagging({"row": STEPS, "last": LAST, "judged_at": NOW - 60.0}, **change)
    assert said == good("bad-socket")
    assert len(case.kept.notes["bad-socket"]["row"]) == 9


def test_a_socket_is_judged_once_by_each_report():
    """What was judged already is not judged again, whatever else has changed."""
    case, said = sagging({"row": STEPS, "last": LAST, "judged_at": NOW})
    assert said == good("bad-socket")
    assert case.kept.notes["bad-socket"]["row"] == STEPS


@pytest.mark.parametrize(("before", "judged"), [(59.0, False), (60.0, True)])
def test_volts_settle_for_a_minute_after_another_heaters_switching_too(before, judged):
    """Both meters have told of it by then."""
    notes = {"row": STEPS, "last": [230.0, 0.0, NOW - 60.0], "judged_at": NOW - 60.0}
    kept = {"told_on": True, "on_since": NOW - 5000.0, "watts": 2200.0, "watts_at": NOW, "volts": 220.0}
    case = case_of(toml=study(heater="settings_watts = [600, 2300]"), notes={"bad-socket": notes}, **kept)
    case.memory.heaters["elsewhere/h"] = HeaterMemory(heard=True, told_on=True, on_since=NOW - before)
    assert bad_socket.judge(case).tripped is judged


@pytest.mark.parametrize(
    ("told_on", "watts", "others"),
    [(True, None, 900.0), (True, 700.0, 700.0), (False, None, 0.0), (False, 30.0, 30.0), (True, -0.4, 0.0)],
)
def test_what_the_others_draw_is_as_metered_or_as_told(told_on, watts, others):
    """The panel's 900 W where its meter has not told yet."""
    case = case_of(toml=study(more=SPOT), volts=220.0, watts=0.0, watts_at=NOW)
    panel = case.memory.heaters[PANEL]
    panel.told_on, panel.on_since, panel.off_since = told_on, NOW - 900.0, NOW - 900.0
    if watts is not None:
        panel.watts, panel.watts_at, panel.meter_period = watts, NOW - 10.0, 10.0
    bad_socket.judge(case)
    assert case.kept.notes["bad-socket"]["last"][3:] == ([round(others / 230.0, 2)] if others else [])


def test_a_latched_socket_keeps_its_first_evidence():
    """More of the same is not told anew."""
    _, said = sagging({"row": STEPS, "last": LAST, "latched": True, "evidence": "First."})
    assert said.evidence == "First."


def test_a_plug_without_a_contact_to_show_is_not_asked_for_it():
    """Only a meter, or neither: what cannot be heard owes no answer."""
    from thermostatd.core.guard import silent_plug

    for plug in (BLIND, METERED):
        case = case_of(
            toml=study().replace(SIMULATED, plug), told_on=True, told_at=NOW - 500.0, shown_on=False
        )
        assert silent_plug.judge(case) == good("silent-plug")


@pytest.mark.parametrize(("since", "settled"), [(60.0, True), (59.9, False)])
def test_volts_are_judged_from_a_minute_after_a_switching(since, settled):
    """However slow the meter."""
    assert (
        sagging({"row": STEPS, "last": LAST}, on_since=NOW - since, meter_period=300.0)[1].latched is settled
    )


def test_the_first_report_of_nothing_is_counted_and_trips_nothing():
    """The second does."""
    case, said = nothing()
    assert said == good(NEVER)
    assert case.kept.notes[NEVER]["nothing_count"] == 1


SLOW = {"meter_period": 300.0}


@pytest.mark.parametrize(
    ("count", "drew", "period", "rests"),
    [(4, 600.0, 300.0, True), (3, 600.0, 300.0, False), (4, 600.0, 61.0, False), (4, 5400.0, 300.0, False)],
)
def test_five_reports_of_nothing_of_a_slow_meter_may_keep_step_with_a_dial(count, drew, period, rests):
    """A short rest, told to nobody, while its body may be cooling; after that it draws nothing."""
    case, said = nothing({"nothing_count": count, "drew_at": NOW - drew}, meter_period=period)
    assert (case.kept.notes[NEVER].get("looks_at") == NOW + 420.0) is rests
    assert (said == trips(NEVER)) is rests


@pytest.mark.parametrize(
    ("ago", "told", "rests"),
    [
        (419.0, 230.0, True),
        (420.0, 230.0, False),  # the next report comes in 70 s: told soon
        (420.0, 100.0, True),
        (420.0 + 299.0, 100.0, True),
        (420.0 + 300.0, 100.0, False),
    ],
)
def test_it_comes_on_again_shortly_before_a_report(ago, told, rests):
    """After seven minutes, and no later than a period after that."""
    notes = {"looks_at": NOW - ago + 420.0, "drew_at": NOW - 2000.0}
    case, said = nothing(notes, told_on=False, watts_at=NOW - told, **SLOW)
    assert said == (trips(NEVER) if rests else good(NEVER))
    assert ("looks_at" in case.kept.notes[NEVER]) is rests


@pytest.mark.parametrize(
    ("drew", "period", "tries", "trips_now"),
    [
        (10_799.0, 300.0, 1, False),
        (10_800.0, 300.0, 1, True),
        (5400.0, 300.0, 0, True),
        (2400.0, 10.0, 1, True),
    ],
)
def test_what_rests_for_being_suspect_has_three_hours_on_a_slow_meter(drew, period, tries, trips_now):
    """Rests of an hour or two, for a cover or a dial, hide when it closed: nothing then is no lack of power."""
    notes = {NEVER: {"nothing_count": 1, "drew_at": NOW - drew}, "covered": {"tries": tries}}
    case = case_of(notes=notes, **RUN | {"meter_period": period})
    assert drawing_nothing.judge(case).tripped is trips_now
