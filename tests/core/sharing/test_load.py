"""What a heater counts for on its circuit, and whether it may draw without an order."""

import pytest

from tests.core.guard.cases import BLIND, METERED, NOW, SIMULATED, now_at
from tests.stories.teller import house_of, study
from thermostatd.core.facts import HeaterFacts, LevelFact
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter import levels
from thermostatd.core.sharing import load

SHOWN = METERED.replace("draws", "shows")
LATCHED = {"drawing-while-off": {"latched": True}}


def parts(plug=SIMULATED, **kept):
    """A house, its 600 W heater, and what is known of its plug."""
    house = house_of(study().replace(SIMULATED, plug))
    return (
        house,
        house.rooms[0].heaters[0],
        HeaterMemory(**{"heard": True, "shown_on": False, "off_since": NOW - 9000.0} | kept),
    )


def amps(watts):
    """A at high mains (derived: P = U·I at 230 V, 10 % over)."""
    return pytest.approx(watts / 230.0 * 1.1)


def test_a_breaker_carries_its_share_for_hours():
    """16 A at four fifths."""
    assert load.share_amps(parts()[0].circuits[0]) == pytest.approx(12.8)


@pytest.mark.parametrize(
    ("levels", "watts"),
    [
        ([], 600.0),
        ([(1500.0, 2)], 600.0),
        ([(1500.0, 3)], 1500.0),
        ([(18.0, 3)], 600.0),
        ([(18.1, 3)], 18.1),
        ([(400.0, 3), (500.0, 9), (900.0, 2)], 500.0),
    ],
)
def test_a_heater_counts_as_proven_or_as_set(levels, watts):
    """The highest level seen three times and over the floor; else the file's watts."""
    facts = HeaterFacts(levels=[LevelFact(level, 5.0, count) for level, count in levels])
    house, heater, kept = parts(facts=facts)
    assert load.counted_amps(kept, heater, house) == amps(watts)


DRAWS = {"told_on": True, "on_since": NOW - 900.0, "shown_on": True, "watts": 1000.0, "watts_at": NOW}


@pytest.mark.parametrize(
    ("change", "watts"),
    [
        ({}, 1000.0),
        ({"shown_on": None}, 1000.0),
        ({"shown_on": False}, 600.0),
        ({"watts_at": NOW - 800.0}, 600.0),
        ({"volts": 207.0}, 1000.0 * (230 / 207) ** 2),
        ({"volts": 206.9}, 1000.0),
        ({"volts": 252.9}, 1000.0 * (230 / 252.9) ** 2),
        ({"volts": 254.0}, 1000.0),
        ({"watts": 590.0}, 600.0),
    ],
)
def test_what_it_draws_now_counts_where_that_is_more(change, watts):
    """Normalised to nominal volts where the plug tells volts that a mains can have."""
    house, heater, kept = parts(**DRAWS | change)
    assert load.counted_amps(kept, heater, house) == amps(watts)


@pytest.mark.parametrize(
    ("plug", "change", "draws"),
    [
        (SIMULATED, {}, False),
        (SIMULATED, {"told_on": True}, True),
        (SIMULATED, {"shown_on": True}, True),
        (SIMULATED, {"notes": LATCHED}, True),
        (SIMULATED, {"notes": {"drawing-while-off": {}}}, False),
        (SIMULATED, {"reachable": False, "shown_on": None}, True),
        (SIMULATED, {"reachable": False, "lapses": NOW + 1.0}, True),
        (SIMULATED, {"reachable": False, "lapses": NOW}, False),
        (SIMULATED, {"shown_on": None}, False),
        (SIMULATED, {"heard": False}, True),
        (BLIND, {"heard": False}, False),
        (SIMULATED, {"watts": 18.1, "watts_at": NOW}, True),
        (SIMULATED, {"watts": 18.0, "watts_at": NOW}, False),
        (SIMULATED, {"watts": 600.0, "watts_at": NOW - 8999.0}, False),
        (BLIND, {"lapses": NOW + 1.0}, True),
        (BLIND, {"lapses": NOW}, False),
        (BLIND, {"waiting_since": NOW - 1799.0}, True),
        (BLIND, {"waiting_since": NOW - 1800.0}, False),
        (SHOWN, {"told_at": NOW - 119.0, "lapses": NOW + 900.0}, True),
        (SHOWN, {"told_at": NOW - 120.0, "lapses": NOW + 900.0}, False),
        (SHOWN, {"told_at": NOW - 60.0, "lapses": NOW}, False),
        (SHOWN, {"told_at": NOW - 60.0, "lapses": NOW + 1.0}, True),
        (SHOWN, {"told_at": NOW - 60.0, "lapses": NOW + 900.0, "shown_at": NOW - 59.0}, False),
        (SHOWN, {"told_at": NOW - 60.0, "lapses": NOW + 900.0, "shown_at": NOW - 60.0}, True),
        (SHOWN, {"told_at": NOW - 4.9, "lapses": NOW - 4.9}, True),
        (SHOWN, {"told_at": NOW - 5.0, "lapses": NOW - 4.9}, False),
        (SHOWN, {"told_at": NOW - 4.9, "lapses": NOW - 4.9, "shown_at": NOW - 4.8}, False),
        (METERED, {"told_at": NOW - 4.9, "lapses": NOW - 4.9}, True),
        (METERED, {"lapses": NOW + 1.0}, True),
        (METERED, {"lapses": NOW}, False),
        (METERED, {"lapses": NOW + 1.0, "watts": 0.0, "watts_at": NOW}, False),
        (METERED, {"waiting_since": NOW - 1799.0}, True),
        (METERED, {"waiting_since": NOW - 1800.0}, False),
    ],
)
def test_what_was_not_proven_off_may_draw(plug, change, draws):
    """Shown, metered, latched, away, unheard, or an ON on its way."""
    _, heater, kept = parts(plug, **change)
    assert load.may_draw(kept, heater, now_at()) is draws


@pytest.mark.parametrize(
    ("plug", "change", "leaves"),
    [
        (SIMULATED, {"told_on": True}, True),
        (SIMULATED, {"told_on": True, "notes": LATCHED}, False),
        (SIMULATED, {"told_on": True, "reachable": False}, False),
        (SIMULATED, {"told_on": True, "heard": False}, False),
        (BLIND, {"told_on": True, "heard": False}, True),
        (SIMULATED, {"told_on": True, "notes": {"drawing-while-off": {}}}, True),
        (SIMULATED, {"shown_on": True, "told_at": NOW - 119.0}, True),
        (SIMULATED, {"shown_on": True, "told_at": NOW - 120.0}, False),
        (SIMULATED, {"shown_on": True, "told_at": None}, False),
        (SIMULATED, {"shown_on": True, "told_at": NOW - 60.0, "settled_at": NOW - 60.0}, True),
        (SIMULATED, {"shown_on": True, "told_at": NOW - 60.0, "settled_at": NOW - 59.0}, False),
        (SIMULATED, {}, True),
        (SIMULATED, {"watts": 18.0, "watts_at": NOW}, True),
        (SIMULATED, {"watts": 18.1, "watts_at": NOW}, False),
    ],
)
def test_what_was_told_off_and_is_there_leaves_by_itself(plug, change, leaves):
    """Two minutes to obey; welded, away, unheard or pressed ON it does not."""
    _, heater, kept = parts(plug, **change)
    assert load.leaving(kept, heater, now_at()) is leaves


def test_what_was_proven_under_a_lower_setting_counts_no_more():
    """Its selector is said to be turned up: what it draws there was never seen. A lower setting changes nothing."""
    facts = HeaterFacts(levels=[LevelFact(600.0, 5.0, 500)], set_watts=600.0)
    levels.set_anew(facts, 630.0)
    assert facts.levels[0].count == 500
    house, heater, kept = parts(facts=facts)
    heater = heater.model_copy(update={"watts": 2000.0})
    levels.set_anew(facts, 2000.0)
    assert load.counted_amps(kept, heater, house) == amps(2000.0)
    levels.see(facts, 600.0, NOW, exact=True)
    assert load.counted_amps(kept, heater, house) == amps(600.0)  # it is metered to be there yet
    levels.set_anew(facts, 600.0)
    assert facts.levels[0].count == 3
