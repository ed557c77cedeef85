"""A memory taken over into a changed house, bound by bound. All invented."""

from tests.core.guard.cases import NOW
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.memory import ClockMemory, HeaterMemory, Memory, RequestMemory, RoomMemory
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
    """The memory in the changed house, and what was kept aside."""
    kept = {} if aside is None else aside
    plain, _ = taken_over(to_plain(memory), house_of(toml or study(room=LIMITS, more=SPOT)), renewed, kept)
    return from_plain(plain), kept


def asked(celsius, ends=NOW + 600.0, until=5000.0, who="Ana"):
    """A request of the study."""
    return RequestMemory(who, "direct", 0.0, ends, until, celsius)


def test_what_did_not_change_goes_on_as_it_was():
    """To the last field."""
    memory = memory_of(asked(20.0), models={"study": {"gain_kelvin": 20.0}})
    found, aside = over(memory)
    assert found == from_plain(to_plain(memory))
    assert aside == {"rooms": {}, "heaters": {}, "models": {}}


def test_a_plug_that_is_told_anew_counts_as_after_a_start():
    """That one alone; a key that is not there is passed over."""
    found, _ = over(memory_of(), renewed=[COLUMN, "attic/oil"])
    assert (found.heaters[COLUMN].heard, found.heaters[COLUMN].told_on) == (False, False)
    assert found.heaters[COLUMN].operations == 10  # the lapse counts
    assert (found.heaters[PANEL].heard, found.heaters[PANEL].told_on) == (True, True)
    assert "attic/oil" not in found.heaters


def test_what_left_the_file_is_kept_aside_and_comes_back():
    """As after a start: nothing of it was heard meanwhile; what it learned is there."""
    memory = memory_of(asked(20.0), models={"study": {"gain_kelvin": 20.0}})
    renamed = study(more=SPOT).replace("study", "den")
    found, aside = over(memory, renamed)
    assert set(found.rooms) | set(found.models) == set()
    assert set(found.heaters) == {PANEL}
    assert (set(aside["rooms"]), set(aside["heaters"]), set(aside["models"])) == (
        {"study"},
        {COLUMN},
        {"study"},
    )
    back, aside = over(found, aside=aside)
    assert back.heaters[COLUMN].operations == 10  # the lapse counts
    assert (back.heaters[COLUMN].heard, back.heaters[PANEL].heard) == (False, True)
    assert (back.rooms["study"].quiet_used, back.models) == (2, {"study": {"gain_kelvin": 20.0}})
    assert aside == {"rooms": {}, "heaters": {}, "models": {}}


def test_what_is_there_is_not_replaced_by_what_was_kept_aside():
    """The newer holds."""
    aside = {"models": {"study": {"gain_kelvin": 1.0}}}
    found, aside = over(memory_of(models={"study": {"gain_kelvin": 20.0}}), aside=aside)
    assert found.models == {"study": {"gain_kelvin": 20.0}}
    assert aside["models"] == {}


def test_a_memory_without_a_table_is_taken_over():
    """As of a first start."""
    plain, _ = taken_over({"version": 1}, house_of(study()), [], {})
    assert from_plain(plain) == Memory()
