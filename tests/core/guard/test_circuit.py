"""The sum on a circuit, and what is said of the one that waits."""

import pytest

from tests.core.guard.cases import BLIND, NOW, SIMULATED, now_at
from tests.stories.teller import COLUMN, PANEL, SECOND, SPOT, house_of, study
from thermostatd.core.guard import circuit
from thermostatd.core.guard.case import good
from thermostatd.core.memory import AirMemory, HandMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Target, Verdict
from thermostatd.core.sharing.turns import Member
from thermostatd.core.values import Reading

SECOND_KEY = "study/panel"
TWO = study(more=SECOND.format(name="panel", watts=2500)).replace("watts = 600", "watts = 2500")
AMPS = 2500.0 / 230.0 * 1.1  # at high mains, derived


def judged(toml=TWO, on=(COLUMN, SECOND_KEY), **known):
    """The verdicts of a study whose air is 18 of 20 degrees; `known` is what is kept of each heater, by its name."""
    house = house_of(toml)
    heaters = {key: HeaterMemory(heard=True, shown_on=False, off_since=0.0) for key, _, _ in house.heaters()}
    for name, kept in known.items():
        key = next(key for key in heaters if key.endswith(f"/{name}"))
        heaters[key] = HeaterMemory(**{"heard": True, "shown_on": False, **kept})
    memory = Memory(
        rooms={room.name: RoomMemory(air=AirMemory(heard=True)) for room in house.rooms}, heaters=heaters
    )
    targets = {room.name: Target(20.0, "usual", "usual") for room in house.rooms}
    readings = Readings({room.name: Reading(18.0, NOW) for room in house.rooms}, Reading(0.0, NOW), ())
    asked = {key: key in on for key in heaters}
    return circuit.judge_all(house, memory, readings, targets, asked, now_at()), memory


def waits(code="circuit", *, safety=False, amps=AMPS, share=12.8, names="study"):
    """The verdict on the one that waits, beside what has the circuit."""
    beside = {"names": names} if code == "circuit" else {}
    why = reason(code, circuit="north", amps=amps, share=share, **beside)
    return Verdict("circuit", True, why, safety=safety)


def test_one_starts_and_the_other_waits_for_the_share():
    """16 A carry 12.8 A for hours: one of two 2500 W heaters; the wait is counted from the first step on."""
    verdicts, memory = judged()
    assert verdicts == {COLUMN: good("circuit"), SECOND_KEY: waits()}
    assert memory.heaters[SECOND_KEY].notes == {"circuit": {"waited": 10.0}}
    assert memory.heaters[COLUMN].notes == {}


def test_one_that_is_not_wanted_is_not_said_to_wait():
    """Who asks for nothing waits for nothing."""
    verdicts, memory = judged(on=(COLUMN,))
    assert verdicts == {COLUMN: good("circuit"), SECOND_KEY: good("circuit")}
    assert memory.heaters[SECOND_KEY].notes == {}


def test_one_starts_at_a_time_though_both_fit():
    """The next in line waits for the first one's inrush."""
    verdicts, _ = judged(TWO.replace("2500", "600"))
    assert verdicts[COLUMN] == good("circuit")
    assert verdicts[SECOND_KEY] == waits("turn-next", amps=600.0 / 230.0 * 1.1)


def test_one_larger_than_its_circuit_is_shed_at_once_if_it_runs():
    """Told to set its selector lower; for safety while it runs."""
    assert judged(TWO.replace("2500", "3000"))[0][COLUMN] == waits("turn-never", amps=3000.0 / 230.0 * 1.1)
    running = {"told_on": True, "on_since": NOW - 5.0, "shown_on": True}
    verdicts, _ = judged(TWO.replace("2500", "3000"), column=running)
    assert verdicts[COLUMN] == waits("turn-never", safety=True, amps=3000.0 / 230.0 * 1.1)


def test_a_heater_on_no_circuit_is_not_counted():
    """Without a circuit there is no sum to keep."""
    verdicts, _ = judged(
        TWO.replace('name = "column"\nwatts = 2500\ncircuit = "north"', 'name = "column"\nwatts = 2500')
    )
    assert verdicts == {COLUMN: good("circuit"), SECOND_KEY: good("circuit")}


def test_a_circuit_without_heaters_holds_nobody_up():
    """There is nothing to sum."""
    verdicts, _ = judged('[[circuit]]\nname = "south"\nbreaker_amps = 10\n' + TWO, on=(COLUMN,))
    assert verdicts == {COLUMN: good("circuit"), SECOND_KEY: good("circuit")}


def test_who_has_waited_long_goes_first_and_a_run_that_was_long_gives_way():
    """The wait of each is its own."""
    verdicts, memory = judged(panel={"notes": {"circuit": {"waited": 3000.0}}})
    assert (verdicts[COLUMN].tripped, verdicts[SECOND_KEY].tripped) == (True, False)
    assert memory.heaters[SECOND_KEY].notes == {}


@pytest.mark.parametrize(("waited", "let"), [(900.0, False), (901.0, True)])
def test_need_moves_a_share_once_a_turn_is_over(waited, let):
    """Half a kelvin more, of which 901 s of waiting are worth 0.5 K and a little."""
    running = {"told_on": True, "on_since": NOW - 700.0, "shown_on": True}
    verdicts, _ = judged(column=running, panel={"notes": {"circuit": {"waited": waited}}})
    assert verdicts[COLUMN].tripped is let
    if let:
        assert verdicts[COLUMN] == waits("turn-over")


def members(monkeypatch, toml=TWO, on=(COLUMN, SECOND_KEY), **known) -> dict[str, Member]:
    """What whose-turn-it-is was asked about."""
    asked = []
    monkeypatch.setattr(circuit, "share_out", lambda members, share: asked.append((members, share)) or {})
    judged(toml, on, **known)
    ((found, share),) = asked
    assert share == pytest.approx(12.8)
    return {member.key: member for member in found}


RUNS = {"told_on": True, "on_since": NOW - 400.0, "shown_on": True}


def test_a_running_heater_is_described_by_its_run(monkeypatch):
    """How long it has run; it draws by its order alone."""
    found = members(monkeypatch, column=RUNS)
    assert found[COLUMN] == Member(
        COLUMN, pytest.approx(AMPS), True, 400.0, False, False, False, None, 300.0, 600.0, 2.0, 0.0
    )
    assert found[SECOND_KEY] == Member(SECOND_KEY, pytest.approx(AMPS), True, None, need=2.0)


def test_one_that_draws_without_an_order_is_said_to(monkeypatch):
    """Going off in this step it draws and is leaving; shown ON long after OFF it draws and is not."""
    found = members(monkeypatch, on=(SECOND_KEY,), column=RUNS)
    assert (found[COLUMN].drawing, found[COLUMN].leaving, found[COLUMN].wanted, found[COLUMN].need) == (
        True,
        True,
        False,
        0.0,
    )
    found = members(monkeypatch, on=(SECOND_KEY,), column={"shown_on": True, "told_at": NOW - 900.0})
    assert (found[COLUMN].drawing, found[COLUMN].leaving, found[COLUMN].ran_seconds) == (True, False, None)


def test_a_run_without_a_known_start_has_just_begun(monkeypatch):
    """Nothing known of its start: 0 s."""
    assert members(monkeypatch, column=RUNS | {"on_since": None})[COLUMN].ran_seconds == 0.0


@pytest.mark.parametrize(
    ("hand", "by_hand"),
    [(HandMemory(True, NOW + 60.0, 0.0), True), (HandMemory(False, NOW + 60.0, 0.0), False), (None, False)],
)
def test_a_press_to_on_goes_first(monkeypatch, hand, by_hand):
    """By hand is ON by hand."""
    assert members(monkeypatch, column={"hand": hand})[COLUMN].by_hand is by_hand


@pytest.mark.parametrize(
    ("plug", "min_on", "turn"),
    [
        (SIMULATED, "5 min", 600.0),
        (SIMULATED, "20 min", 1200.0),
        (BLIND, "5 min", 3600.0),
        (BLIND, "90 min", 5400.0),
    ],
)
def test_a_turn_is_ten_minutes_an_hour_where_nothing_is_heard_and_never_under_the_shortest_run(
    monkeypatch, plug, min_on, turn
):
    """Minutes of the turn by what the plug can tell."""
    toml = TWO.replace(SIMULATED, f'min_on = "{min_on}"\n{plug}', 1)
    assert members(monkeypatch, toml)[COLUMN].turn == turn


def test_a_spot_has_a_place_in_line_and_no_need(monkeypatch):
    """First or last, as the owner says; its wait is counted, its room has no air."""
    spot = SPOT.replace("watts = 900", 'watts = 2500\ncircuit = "north"')
    toml = study(more=spot).replace("watts = 600", "watts = 2500")
    found = members(monkeypatch, toml, (COLUMN, PANEL), panel={"notes": {"circuit": {"waited": 40.0}}})
    assert (found[PANEL].spot, found[PANEL].need, found[PANEL].waited) == ("first", 0.0, 40.0)
    assert (found[COLUMN].spot, found[COLUMN].need) == (None, 2.0)


def test_need_is_asked_for_only_where_not_all_fit(monkeypatch):
    """Exactly the share still fits; then nobody's need matters, nor wait."""
    toml = TWO.replace("2500", "1000").replace(
        "breaker_amps = 16", "breaker_amps = 16\ncontinuous_share = 0.8"
    )
    found = members(monkeypatch, toml, panel={"notes": {"circuit": {"waited": 40.0}}})
    assert (found[COLUMN].need, found[SECOND_KEY].waited) == (0.0, 0.0)
    found = members(monkeypatch, on=(SECOND_KEY,), panel={"notes": {"circuit": {"waited": 40.0}}})
    assert found[SECOND_KEY].need == 0.0
    found = members(monkeypatch, on=(SECOND_KEY,), column=RUNS)
    assert found[SECOND_KEY].need == 2.0
    found = members(monkeypatch, panel={"notes": {"circuit": {"waited": 36.0}}})
    assert (found[SECOND_KEY].waited, found[SECOND_KEY].need) == (36.0, pytest.approx(2.02))


@pytest.mark.parametrize(("wants", "after"), [((COLUMN, SECOND_KEY), 50.0), ((COLUMN,), 30.0)])
def test_a_wait_grows_while_it_waits_and_shrinks_while_nothing_is_wanted(wants, after):
    """Ten seconds a step of ten seconds, either way."""
    _, memory = judged(
        on=wants, column=RUNS | {"on_since": NOW - 100.0}, panel={"notes": {"circuit": {"waited": 40.0}}}
    )
    assert memory.heaters[SECOND_KEY].notes == {"circuit": {"waited": after}}


def test_a_running_plug_that_cannot_be_heard_holds_its_share_though_it_is_told_off():
    """Nobody hears whether it obeyed: what someone pressed ON beside it is shed at once too, not a step later."""
    toml = TWO.replace(SIMULATED, BLIND, 1).replace("watts = 2500", "watts = 400", 1)
    pressed = {"shown_on": True, "hand": HandMemory(True, NOW + 3600.0, 0.0), "settled_at": NOW}
    verdicts, _ = judged(toml, column=RUNS | {"lapses": NOW + 900.0}, panel=pressed)
    assert verdicts[SECOND_KEY] == waits(safety=True)
    assert verdicts[COLUMN].tripped
    verdicts, _ = judged(toml, column=RUNS | {"lapses": NOW + 900.0}, on=(COLUMN,))
    assert verdicts[COLUMN] == good("circuit")
