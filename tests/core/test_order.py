"""What each plug is told, when it is told again, and when that lapses, at the very edges of the bounds."""

from datetime import UTC, datetime

import pytest

from tests.core.guard.cases import BLIND, METERED, NOW, SIMULATED, now_at
from tests.stories.teller import COLUMN, SPOT, house_of, study
from thermostatd.core.guard import Guarded
from thermostatd.core.memory import HeaterMemory, Memory, RoomMemory
from thermostatd.core.order import orders
from thermostatd.core.results import Event, Order, Reason

WHY = Reason("warming", "Warming.")
SHOWN = METERED.replace("draws", "shows")


def told(on, *, toml=None, plug=SIMULATED, now=None, **kept):
    """The order for the study's column, what is kept of its plug after it, and what happened."""
    house = house_of((toml or study()).replace(SIMULATED, plug))
    memory = Memory(rooms={"study": RoomMemory()}, heaters={COLUMN: HeaterMemory(**kept)})
    found, events = orders(house, memory, {COLUMN: Guarded(on, WHY, ())}, now or now_at())
    return found[COLUMN], memory.heaters[COLUMN], events


def test_switching_on_is_told_counted_and_said():
    """At once, for twenty minutes; the rest before it is kept."""
    before = {
        "off_since": 5.0,
        "off_reports_over": 1,
        "operations": 3,
        "retold_at": NOW - 1.0,
        "shown_on": False,
    }
    order, kept, events = told(True, unanswered_since=3.0, **before)
    assert order == Order(True, WHY, NOW + 1200.0, True)
    assert events == [Event("switched-on", COLUMN, "ON: Warming.")]
    assert (kept.told_on, kept.told_at, kept.retold_at, kept.lapses) == (True, NOW, NOW, NOW + 1200.0)
    assert (kept.on_since, kept.off_since, kept.off_reports_over, kept.operations) == (NOW, 5.0, 0, 4)
    assert (kept.answered, kept.unanswered_since, kept.on_seconds) == (False, None, 0.0)


def test_switching_off_is_told_counted_and_said():
    """The lapse of the ON before is kept: the plug may still hold it."""
    order, kept, events = told(
        False, told_on=True, on_since=NOW - 900.0, lapses=NOW + 300.0, shown_on=True, retold_at=NOW
    )
    assert order == Order(False, WHY, NOW + 1200.0, True)
    assert events == [Event("switched-off", COLUMN, "OFF: Warming.")]
    assert (kept.told_on, kept.on_since, kept.off_since, kept.lapses) == (False, None, NOW, NOW + 300.0)
    assert (kept.told_at, kept.operations, kept.answered) == (NOW, 1, False)


@pytest.mark.parametrize(
    ("shown", "reachable", "answered"), [(True, True, True), (True, False, False), (None, True, False)]
)
def test_what_the_plug_shows_already_is_answered(shown, reachable, answered):
    """A plug that is there and shows it needs no answer."""
    assert told(True, shown_on=shown, reachable=reachable)[1].answered is answered


def test_a_run_counts_its_seconds_from_the_second_step_on():
    """By the step; not while off, nor in the step that switches."""
    assert told(True, told_on=True, on_seconds=7.0)[1].on_seconds == 17.0
    assert told(False, on_seconds=7.0)[1].on_seconds == 7.0
    assert told(False, told_on=True, on_seconds=7.0)[1].on_seconds == 7.0


ON = {
    "told_on": True,
    "on_since": NOW - 500.0,
    "told_at": NOW - 500.0,
    "shown_on": True,
    "retold_at": NOW - 5.0,
}


@pytest.mark.parametrize(("left", "renewed"), [(960.0, False), (959.0, True)])
def test_an_on_is_renewed_under_sixteen_minutes(left, renewed):
    """Its plug is told again, for twenty minutes more."""
    order, kept, events = told(True, lapses=NOW + left, **ON)
    assert order == Order(True, WHY, NOW + (1200.0 if renewed else left), renewed)
    assert (kept.retold_at, kept.lapses) == (NOW if renewed else NOW - 5.0, order.lapses)
    assert events == []


@pytest.mark.parametrize(("left", "lapses"), [(1020.0, NOW + 1020.0), (1019.0, NOW + 1260.0)])
def test_a_slow_tick_is_given_two_ticks_over_a_quarter_of_an_hour(left, lapses):
    """A tick of a minute: renewed under 1020 s, for four minutes over that."""
    order, _, _ = told(True, toml=study(house='tick = "60 s"'), lapses=NOW + left, **ON)
    assert order.lapses == lapses


OFF = {"told_on": False, "off_since": NOW - 5000.0, "told_at": NOW - 5000.0, "shown_on": False}


@pytest.mark.parametrize(
    ("plug", "change", "silent", "again"),
    [
        (SIMULATED, {}, 9000.0, False),
        (SIMULATED, {"shown_on": True}, 29.0, False),
        (SIMULATED, {"shown_on": True}, 30.0, True),
        (SIMULATED, {"shown_on": None}, 599.0, False),
        (SIMULATED, {"shown_on": None}, 600.0, True),
        (BLIND, {}, 599.0, False),
        (BLIND, {}, 600.0, True),
        (BLIND, {"lapses": NOW + 1.0}, 30.0, True),
        (BLIND, {"lapses": NOW + 1.0}, 29.0, False),
        (BLIND, {"lapses": NOW}, 30.0, False),
        (SIMULATED, {"lapses": NOW + 1.0}, 30.0, False),
        (SIMULATED, {"watts": 18.1, "watts_at": NOW}, 30.0, True),
        (SIMULATED, {"watts": 18.1, "watts_at": NOW}, 29.0, False),
        (SIMULATED, {"watts": 18.0, "watts_at": NOW}, 30.0, False),
        (SIMULATED, {"notes": {"drawing-while-off": {"latched": True}}}, 30.0, True),
        (SIMULATED, {"notes": {"drawing-while-off": {}}}, 30.0, False),
        (
            SIMULATED,
            {"notes": {"drawing-while-off": {"latched": True}}, "watts": 0.0, "watts_at": NOW},
            30.0,
            False,
        ),
        (SIMULATED, {"settled_at": NOW}, 1.0, True),
        (SIMULATED, {"settled_at": NOW - 1.0}, 1.0, False),
        (SIMULATED, None, 9000.0, True),
    ],
)
def test_off_is_told_again_until_it_is_shown(plug, change, silent, again):
    """Each half minute while it shows ON, draws or may hold an ON; each ten minutes where nothing is shown."""
    retold = None if change is None else NOW - silent
    order, kept, _ = told(False, plug=plug, **OFF | (change or {}) | {"retold_at": retold})
    assert order == Order(False, WHY, NOW + 1200.0, again)
    assert kept.retold_at == (NOW if again else retold)


@pytest.mark.parametrize(
    ("plug", "change", "silent", "again"),
    [
        (SIMULATED, {}, 9000.0, False),
        (SIMULATED, {"shown_on": False}, 29.0, False),
        (SIMULATED, {"shown_on": False}, 30.0, True),
        (BLIND, {}, 599.0, False),
        (BLIND, {}, 600.0, True),
        (SIMULATED, {"settled_at": NOW}, 1.0, False),
        (SIMULATED, {"watts": 600.0, "watts_at": NOW}, 60.0, False),
        (SHOWN, {"shown_on": None}, 60.0, False),
    ],
)
def test_on_is_told_again_until_it_is_shown(plug, change, silent, again):
    """Each half minute while it shows OFF; power is no reason; an ON told again holds for twenty minutes anew."""
    order, _, _ = told(
        True, plug=plug, **ON | {"lapses": NOW + 1000.0} | change | {"retold_at": NOW - silent}
    )
    assert order == Order(True, WHY, NOW + (1200.0 if again else 1000.0), again)


@pytest.mark.parametrize(("hour", "used"), [(23, 1), (12, 0)])
def test_a_switching_of_a_room_counts_against_its_quiet_hours(hour, used):
    """At night, one switching is one."""
    house = house_of(study(room='quiet = [{ from = "22:00", to = "06:00", switches = 4 }]', more=SPOT))
    memory = Memory(
        rooms={"study": RoomMemory()}, heaters={key: HeaterMemory() for key, _, _ in house.heaters()}
    )
    wall = datetime(2026, 1, 12, hour, tzinfo=UTC)
    orders(house, memory, {key: Guarded(True, WHY, ()) for key in memory.heaters}, now_at(wall=wall))
    assert memory.rooms["study"].quiet_used == used


@pytest.mark.parametrize(
    ("was", "on", "reachable", "maybe"),
    [(True, False, False, True), (True, False, True, False), (False, True, False, False), (False, False, False, False)],
)
def test_an_off_that_cannot_get_there_leaves_it_perhaps_on(was, on, reachable, maybe):
    """Told ON, never shown, and the way was lost: after a restart nobody else would know that it may be on."""
    assert told(on, told_on=was, told_at=NOW - 40.0, reachable=reachable)[1].maybe_on is maybe
