"""A memory taken over into a changed house, bound by bound. All invented."""

from tests.core.guard.cases import NOW
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.memory import ChangeMemory, ClockMemory, HeaterMemory, Memory, RequestMemory, RoomMemory
from thermostatd.core.rehousing import taken_over
from thermostatd.core.remembering import from_plain, to_plain

LIMITS = 'household = { lowest = 15, highest = 22, longest = "1 h" }'
HEARD = {"heard": True, "shown_on": True, "told_on": True, "told_at": NOW, "operations": 9}


def memory_of(request=None, **fields):
    """The study's memory, of a column that was heard."""
    return Memory(
        rooms={"study": RoomMemory(request=request, quiet_used=2)},
        heaters={COLUMN: HeaterMemory(**HEARD), PANEL: HeaterMemory(**HEARD)},
        clock=ClockMemory(last_steady=NOW),
        changes=fields.pop("changes", []),
        **fields,
    )


def over(memory, toml=None, renewed=(), aside=None):
    """The memory in the changed house, what is told, and what was kept aside."""
    kept = {} if aside is None else aside
    plain, told, _ = taken_over(to_plain(memory), house_of(toml or study(room=LIMITS, more=SPOT)), renewed, kept)
    return from_plain(plain), told, kept


def asked(celsius, ends=NOW + 600.0, until=5000.0, who="Ana"):
    """A request of the study."""
    return RequestMemory(who, "direct", 0.0, ends, until, celsius)


def test_what_did_not_change_goes_on_as_it_was():
    """To the last field."""
    memory = memory_of(asked(20.0), models={"study": {"gain_kelvin": 20.0}})
    found, told, aside = over(memory)
    assert found == from_plain(to_plain(memory))
    assert told == []
    assert aside == {"rooms": {}, "heaters": {}, "models": {}}


def test_a_plug_that_is_told_anew_counts_as_after_a_start():
    """That one alone; a key that is not there is passed over."""
    found, _, _ = over(memory_of(), renewed=[COLUMN, "attic/oil"])
    assert (found.heaters[COLUMN].heard, found.heaters[COLUMN].told_on) == (False, False)
    assert found.heaters[COLUMN].operations == 10  # the lapse counts
    assert (found.heaters[PANEL].heard, found.heaters[PANEL].told_on) == (True, True)
    assert "attic/oil" not in found.heaters


def test_a_wish_outside_the_new_limits_becomes_the_limit():
    """And says so by name; what was undoable no longer is."""
    changes = [ChangeMemory(1, NOW)]
    for celsius, within, words in ((23.5, 22.0, "23.5 °C, is 22 °C"), (14.0, 15.0, "14 °C, is 15 °C")):
        found, told, _ = over(memory_of(asked(celsius), changes=list(changes)))
        assert found.rooms["study"].request.celsius == within
        assert told == [f"study: what Ana asked, {words} now: the limit"]
        assert found.changes == []
    for celsius in (22.0, 15.0, None):
        found, told, _ = over(memory_of(asked(celsius), changes=list(changes)))
        assert (found.rooms["study"].request.celsius, told, len(found.changes)) == (celsius, [], 1)
    assert over(memory_of(asked(30.0, who="")))[1] == [
        "study: what someone asked, 30 °C, is 22 °C now: the limit"
    ]


def test_a_wish_ends_no_later_than_the_new_longest_allows():
    """On both clocks; a shorter one, or one without an end, stays."""
    found, _, _ = over(memory_of(asked(20.0, ends=NOW + 7200.0, until=9000.0)))
    assert (found.rooms["study"].request.ends, found.rooms["study"].request.until_wall) == (
        NOW + 3600.0,
        5400.0,
    )
    found, _, _ = over(memory_of(asked(20.0, ends=NOW + 3600.0, until=9000.0)))
    assert (found.rooms["study"].request.ends, found.rooms["study"].request.until_wall) == (
        NOW + 3600.0,
        9000.0,
    )
    found, _, _ = over(memory_of(asked(20.0, ends=None, until=None)))
    assert found.rooms["study"].request.ends is None
    found, _, _ = over(memory_of(asked(20.0, ends=NOW + 7200.0, until=None)))
    assert (found.rooms["study"].request.ends, found.rooms["study"].request.until_wall) == (
        NOW + 3600.0,
        None,
    )
    memory = memory_of(asked(20.0, ends=NOW + 7200.0))
    memory.clock.last_steady = None
    assert over(memory)[0].rooms["study"].request.ends == NOW + 7200.0


def test_what_left_the_file_is_kept_aside_and_comes_back():
    """As after a start: nothing of it was heard meanwhile; what it learned is there."""
    memory = memory_of(asked(20.0), models={"study": {"gain_kelvin": 20.0}})
    renamed = study(more=SPOT).replace("study", "den")
    found, _, aside = over(memory, renamed)
    assert set(found.rooms) | set(found.models) == set()
    assert set(found.heaters) == {PANEL}
    assert (set(aside["rooms"]), set(aside["heaters"]), set(aside["models"])) == (
        {"study"},
        {COLUMN},
        {"study"},
    )
    back, told, aside = over(found, aside=aside)
    assert back.heaters[COLUMN].operations == 10  # the lapse counts
    assert (back.heaters[COLUMN].heard, back.heaters[PANEL].heard) == (False, True)
    assert (back.rooms["study"].quiet_used, back.models) == (2, {"study": {"gain_kelvin": 20.0}})
    assert told == []
    assert aside == {"rooms": {}, "heaters": {}, "models": {}}


def test_what_is_there_is_not_replaced_by_what_was_kept_aside():
    """The newer holds."""
    aside = {"models": {"study": {"gain_kelvin": 1.0}}}
    found, _, aside = over(memory_of(models={"study": {"gain_kelvin": 20.0}}), aside=aside)
    assert found.models == {"study": {"gain_kelvin": 20.0}}
    assert aside["models"] == {}


def test_each_wish_that_changed_is_told():
    """Room by room."""
    den = '[[room]]\nname = "den"\nsensor = { topic = "d" }\nhousehold = { highest = 21 }'
    memory = memory_of(asked(23.5))
    memory.rooms["den"] = RoomMemory(request=asked(22.5, who="Bo"))
    _, told, _ = over(memory, study(room=LIMITS, more=SPOT + den))
    assert told == [
        "study: what Ana asked, 23.5 °C, is 22 °C now: the limit",
        "den: what Bo asked, 22.5 °C, is 21 °C now: the limit",
    ]


def test_a_memory_without_a_table_is_taken_over():
    """As of a first start."""
    plain, told, _ = taken_over({"version": 1}, house_of(study()), [], {})
    assert (from_plain(plain), told) == (Memory(), [])


def test_a_spot_ends_no_later_than_the_new_longest_allows():
    """As a room's wish does."""
    memory = memory_of(spots={"sewing table": asked(None, ends=NOW + 9e4, until=9e4)})
    found, _, _ = over(memory)
    longest = found.spots["sewing table"].ends - NOW
    assert 0.0 < longest < 9e4
    assert found.spots["sewing table"].until_wall == longest
