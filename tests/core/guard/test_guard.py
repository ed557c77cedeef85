"""What the interlocks have in common: each speaks, the worst is heard, and what failed counts as tripped."""

import pytest

from tests.core.guard.cases import NOW, case_of, now_at
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core import guard
from thermostatd.core.guard import CODES, INTERLOCKS, LATCHES, Guarded, ceiling, circuit, open_latch, stopping
from thermostatd.core.memory import AirMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.pace import Paced
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Reason, Target, Verdict
from thermostatd.core.values import Reading

WARMING = Reason("warming", "Warming.")


def guarded(*, on=True, air=19.0, target=20.0, why=WARMING, verdicts=(), going_down=False, memory=None):
    """Both heaters of a sound house after every interlock; and the memory it left."""
    house = house_of(study(more=SPOT))
    if memory is None:
        memory = Memory(
            rooms={"study": RoomMemory(air=AirMemory(heard=True, celsius=air, at=NOW))},
            heaters={key: HeaterMemory(heard=True, shown_on=False) for key in (COLUMN, PANEL)},
        )
    paced = {key: Paced(on, why, verdicts) for key in (COLUMN, PANEL)}
    targets = {"study": Target(target, "usual", "usual")}
    readings = Readings({"study": Reading(air, NOW)}, Reading(0.0, NOW), [])
    return guard.guard(house, memory, readings, targets, paced, now_at(), going_down), memory


def test_what_is_wanted_and_proven_good_is_on():
    """Every interlock spoke, none tripped, and the reason is the one it came with."""
    said = Verdict("spell", True, WARMING)
    result, _ = guarded(verdicts=(said,))
    for key in (COLUMN, PANEL):
        assert result[key] == Guarded(True, WARMING, result[key].verdicts)
        assert result[key].verdicts[0] == said
        assert [verdict.code for verdict in result[key].verdicts[1:]] == list(CODES)
        assert not any(verdict.tripped for verdict in result[key].verdicts[1:])


def test_what_comes_in_off_goes_out_off():
    """The guard turns nothing on, and leaves the reason."""
    result, _ = guarded(on=False)
    assert result[COLUMN] == Guarded(False, WARMING, result[COLUMN].verdicts)


def test_the_worst_that_trips_gives_the_reason():
    """Going down is worse than the ceiling, and the ceiling than overshoot; a spot has neither."""
    result, _ = guarded(air=27.5, going_down=True)
    assert {key: one.reason.code for key, one in result.items()} == {COLUMN: "stopping", PANEL: "stopping"}
    result, _ = guarded(air=27.5)
    assert (result[COLUMN].on, result[COLUMN].reason.code) == (False, "ceiling")
    assert (result[PANEL].on, result[PANEL].reason) == (True, WARMING)


@pytest.mark.parametrize(("code", "expected"), [("cooling-down", "cooling-down"), ("warming", "overshoot")])
def test_overshoot_leaves_the_word_to_a_room_that_cools_down_anyway(code, expected):
    """That a room cools down to a lower target says more than that it is warmer than wanted."""
    result, _ = guarded(on=False, air=21.0, why=reason(code, target=20.0, eta=""))
    assert (result[COLUMN].on, result[COLUMN].reason.code) == (False, expected)
    result, _ = guarded(air=27.5, on=False, why=reason("cooling-down", target=20.0))
    assert result[COLUMN].reason.code == "ceiling"


@pytest.mark.parametrize(
    ("air", "on", "expected"),
    [(20.1, False, "warm-enough"), (20.5, False, "overshoot"), (20.1, True, "overshoot")],
)
def test_overshoot_speaks_of_a_tenth_only_where_it_takes_heat_away(air, on, expected):
    """It holds until the target is reached: a room that wants no heat is warm enough, not "0.1° warmer than wanted"."""
    memory = Memory(
        rooms={"study": RoomMemory(air=AirMemory(heard=True, celsius=air, at=NOW))},
        heaters={key: HeaterMemory(heard=True, shown_on=False) for key in (COLUMN, PANEL)},
    )
    memory.heaters[COLUMN].notes["overshoot"] = {"tripped": True}
    result, _ = guarded(memory=memory, air=air, on=on, why=WARMING if on else reason("warm-enough"))
    assert (result[COLUMN].on, result[COLUMN].reason.code) == (False, expected)


def failed(code, what):
    """What is said of a check that failed."""
    sentence = f"The check “{code}” failed ({what}); the heater stays off."
    return Verdict(
        code,
        True,
        Reason(code, sentence, {"what": what}),
        safety=True,
        trouble=True,
        loud=True,
        evidence=sentence,
        failed=True,
    )


@pytest.mark.parametrize(
    ("answer", "what"),
    [
        (OSError("broken"), "OSError: broken"),
        (None, "it gave no verdict"),
        (Verdict("circuit", False), "it gave no verdict"),
        (Verdict("ceiling", 0), "it gave no verdict"),
        (False, "it gave no verdict"),
    ],
)
def test_an_interlock_that_raises_or_gives_no_verdict_of_its_own_counts_as_tripped(monkeypatch, answer, what):
    """It is off, loud, and says that the check itself failed."""

    def judge(case):
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(ceiling, "judge", judge)
    result, _ = guarded()
    assert result[COLUMN].on is False
    assert result[COLUMN].verdicts[INTERLOCKS.index(ceiling)] == failed("ceiling", what)
    assert result[COLUMN].reason == failed("ceiling", what).reason


@pytest.mark.parametrize(
    ("answer", "what"),
    [
        (OSError("broken"), "OSError: broken"),
        ({}, "it gave no verdict"),
        ({COLUMN: Verdict("ceiling", False)}, "it gave no verdict"),
    ],
)
def test_a_circuit_that_cannot_be_judged_counts_as_tripped(monkeypatch, answer, what):
    """No heater runs on a sum that nobody made."""

    def judge_all(*_):
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(circuit, "judge_all", judge_all)
    result, _ = guarded()
    assert not result[COLUMN].on
    assert not result[PANEL].on
    assert result[COLUMN].verdicts[-1] == failed("circuit", what)


def test_a_long_fault_is_cut_to_eighty_letters(monkeypatch):
    """A sentence stays a sentence; the whole fault is kept beside it."""

    def judge(case):
        raise ValueError("x" * 200)

    monkeypatch.setattr(stopping, "judge", judge)
    said = guarded()[0][COLUMN].reason
    assert said.sentence == f"The check “stopping” failed (ValueError: {'x' * 68}); the heater stays off."
    assert said.numbers["what"] == "ValueError: " + "x" * 200


def test_an_interlock_that_did_not_run_counts_as_tripped(monkeypatch):
    """A code that nobody spoke for is off."""
    monkeypatch.setattr(guard, "CODES", (*CODES, "forgotten"))
    result, _ = guarded()
    assert result[COLUMN].on is False
    assert result[COLUMN].verdicts[-1] == failed("forgotten", "it did not run")


def test_a_circuit_is_asked_about_what_all_others_left_on(monkeypatch):
    """Only what pace let through and no interlock took away asks for its share."""
    asked = []
    monkeypatch.setattr(circuit, "judge_all", lambda *args: asked.append(args[4]) or {})
    guarded(air=27.5)
    guarded(on=False)
    assert asked == [{COLUMN: False, PANEL: True}, {COLUMN: False, PANEL: False}]


def test_a_circuit_is_asked_by_the_air_and_the_targets(monkeypatch):
    """Who needs it most is told by both."""
    asked = []
    monkeypatch.setattr(circuit, "judge_all", lambda *args: asked.append(args) or {})
    _, memory = guarded()
    house, known, readings, targets, _, now = asked[0]
    assert (house.house.name, known is memory, now) == ("Quay House", True, now_at())
    assert (readings.air["study"], targets["study"].celsius) == (Reading(19.0, NOW), 20.0)


def test_each_interlock_is_shown_its_own_heater():
    """A room's heater comes with its air and target, a spot's with neither; each with its own memory."""
    seen = []
    real = stopping.judge
    stopping.judge = lambda case: seen.append(case) or real(case)
    try:
        _, memory = guarded(on=False)
    finally:
        stopping.judge = real
    column, panel = seen
    assert (column.key, column.heater.name, column.room.name) == (COLUMN, "column", "study")
    assert (column.kept, column.air_memory) == (memory.heaters[COLUMN], memory.rooms["study"].air)
    assert (column.air, column.target.celsius, column.wanted, column.stopping) == (
        Reading(19.0, NOW),
        20.0,
        False,
        False,
    )
    assert column.memory is memory
    assert column.now == now_at()
    assert column.house.house.name == "Quay House"
    assert (panel.key, panel.room, panel.air, panel.air_memory, panel.target) == (
        PANEL,
        None,
        None,
        None,
        None,
    )
    assert panel.kept is memory.heaters[PANEL]


@pytest.mark.parametrize("code", sorted(LATCHES))
def test_what_the_owner_has_seen_forgets_the_latch_and_keeps_what_was_judged(code):
    """Only a report newer than the owner's look can latch anew."""
    case = case_of(
        off_reports_over=2,
        notes={code: {"latched": True, "at": 5.0, "judged_at": 7.0}, "other": {"latched": True}},
    )
    open_latch(case.memory, f"{COLUMN}/{code}")
    assert case.kept.notes == {code: {"at": 5.0, "judged_at": 7.0}, "other": {"latched": True}}
    assert case.kept.off_reports_over == 0


@pytest.mark.parametrize(
    "trouble", [f"{COLUMN}/ceiling", "nobody/warm-plug", "warm-plug", f"{COLUMN}/warm-plug/at"]
)
def test_the_owners_word_on_something_else_opens_nothing(trouble):
    """What does not latch, or names no heater, changes nothing."""
    case = case_of(off_reports_over=2, notes={"ceiling": {"tripped": True}, "warm-plug": {"latched": True}})
    open_latch(case.memory, trouble)
    assert case.kept.notes == {"ceiling": {"tripped": True}, "warm-plug": {"latched": True}}
    assert case.kept.off_reports_over == 2


def test_a_latch_that_left_no_note_is_opened_without_harm():
    """The owner may look at what a restart forgot."""
    case = case_of(off_reports_over=2)
    open_latch(case.memory, f"{COLUMN}/warm-plug")
    assert (case.kept.notes, case.kept.off_reports_over) == ({"warm-plug": {}}, 0)


def test_the_owners_word_is_told_to_what_the_meter_diagnosed():
    """A diagnosis hears of it too."""
    case = case_of()
    heard = []
    real = guard.accepting.accept
    guard.accepting.accept = lambda kept, code: heard.append((kept, code))
    try:
        open_latch(case.memory, f"{COLUMN}/selector-moved")
        open_latch(case.memory, "nobody/selector-moved")
    finally:
        guard.accepting.accept = real
    assert heard == [(case.kept, "selector-moved")]
