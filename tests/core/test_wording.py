"""Wordy tables as short texts: to the last bit, readable for ever, and never longer than they were. All invented."""

import json
import zlib
from base64 import b64encode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.core.memory import HeaterMemory, Memory, RoomMemory
from thermostatd.core.remembering import from_plain, to_plain
from thermostatd.core.wording import MOST_BYTES, WORDS, WORTH_CHARACTERS, table_of, text_of

TABLE = {
    "reading-missing": {"value": 19.8, "since": 417540, "joules": 95400, "count": 7},
    "cut-out": {
        "warmth": 102.7,
        "warm_at": 417600,
        "cold": 0.2,
        "proven": [[798.5, 618.9]],
        "tripped_at": 25080,
    },
    "no-answer": {
        "cycles": {"begun": 60, "heats": True, "heat": [0.09641, -0.0, 1e-17]},
        "failed": 0,
        "run": None,
    },
}
WRITTEN = (
    "ePkW8xmQfZVBDoAgDAQ/tJKWAKWP4ejNL/B3C4aAGj320KaH3Zm/mrG6jKGJwBIDzWirTYRRQLEyPyDTaMnknWAmyI6ka+voH3ss"
    "+BHNLiJxdloKbjDykXLjxY0PL90kwpdxNAWGJY7A+8ZS7NYim66Xls1aTypoUj8="
)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
)


@given(st.dictionaries(st.text(), PLAIN))
def test_what_is_written_is_read_again(table):
    """Text for text and bit for bit; or the table itself was left."""
    told = text_of(table)
    if isinstance(told, str):
        assert len(told) + WORTH_CHARACTERS <= len(
            json.dumps(table, separators=(",", ":"), ensure_ascii=False).encode()
        )
        assert json.dumps(table_of(told)) == json.dumps(table)
    else:
        assert told is table


def test_a_text_of_the_first_version_is_read_for_ever():
    """Who edits WORDS loses the memory of every house."""
    assert table_of(WRITTEN) == TABLE


def test_a_small_table_stays_one():
    """It can be read by a person."""
    assert text_of({"tries": 1}) == {"tries": 1}


def _text(plain):
    machine = zlib.compressobj(zdict=WORDS)
    return b64encode(machine.compress(plain) + machine.flush()).decode()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("Zm9v", "damaged"),
        ("Zm9", "padding"),
        (_text(b"[1]"), "holds no table"),
        (_text(b'{"a": 1}')[:-8], "holds no table"),
        (_text(b'{"a": "' + b" " * MOST_BYTES + b'"}'), "holds no table"),
        (_text(b"{"), "Expecting"),
        (_text(b"\xff"), "decode"),
    ],
)
def test_a_damaged_text_is_a_value_error(text, why):
    """As the reader of a memory promises."""
    with pytest.raises(ValueError, match=why):
        table_of(text)


def test_a_memory_comes_back_with_its_wordy_tables():
    """Of heaters, rooms and models; and an older one, with tables in their places, is read as before."""
    notes = {"bad-socket": {"row": [0.1, -3.43, 0.16] * 16, "noise": 0.00275}}
    memory = Memory(
        heaters={"study/column": HeaterMemory(notes=notes)},
        rooms={"study": RoomMemory(demand={"predictive": {"state": [19.123456, 18.5] * 9}})},
        models={"study": {"gain_kelvin": 40.5, "thermal": {"profile": [0.5, 1.5] * 24, "at": 3.0}}},
    )
    plain = json.loads(json.dumps(to_plain(memory)))
    texts = (
        plain["heaters"]["study/column"]["notes"],
        plain["rooms"]["study"]["demand"],
        plain["models"]["study"]["thermal"],
    )
    assert all(isinstance(one, str) for one in texts)
    assert from_plain(plain) == memory
    plain["heaters"]["study/column"]["notes"] = notes
    assert from_plain(plain) == memory
