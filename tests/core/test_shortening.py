"""The very form in which a plain memory is shortened, and that it comes back to the last bit. All invented."""

import json

import pytest

from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.memory import AirMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.remembering import from_plain, to_plain
from thermostatd.core.shortening import MOST_WHOLE, flat, lengthen, row_numbers, row_text, shorten
from thermostatd.core.wording import table_of


def plain_of(**tables):
    """A plain memory of these tables."""
    return {"rooms": {}, "heaters": {}, "changes": [], **tables}


def test_points_in_time_are_rows_of_seconds_since():
    """Of a room's air and of its window."""
    trail, points = [(1060.0, 17.384), (1360.0, 17.5)], [[10.0, 18.5], [130.0, 18.25]]
    rooms = {"study": {"air": {"trail": trail}, "window": {"points": points}}}
    plain = shorten(plain_of(rooms=rooms))
    assert plain["rooms"] == {
        "study": {"air": {"trail": [1060, 17.384, 300, 17.5]}, "window": {"points": [10, 18.5, 120, 18.25]}}
    }
    lengthen(plain)
    assert plain["rooms"]["study"]["air"]["trail"] == [[1060, 17.384], [1360, 17.5]]
    assert plain["rooms"]["study"]["window"]["points"] == points


def test_facts_and_requests_are_rows_without_names():
    """In the order of their fields."""
    facts = {
        "levels": [{"watts": 600.5, "spread_watts": 5.0}],
        "trips": [{"at_wall": 1.5, "run_seconds": 2.0}],
    }
    changes = [{"number": 1, "requests": {"out": {"who": "Ana", "origin": "direct"}, "room:study": None}}]
    plain = shorten(plain_of(heaters={"a/b": {"facts": facts}}, changes=changes))
    assert plain["heaters"]["a/b"]["facts"] == {"levels": [[600.5, 5]], "trips": [[1.5, 2]]}
    assert plain["changes"] == [{"number": 1, "requests": {"out": ["Ana", "direct"], "room:study": None}}]
    lengthen(plain)
    assert plain["heaters"]["a/b"]["facts"]["levels"] == [{"watts": 600.5, "spread_watts": 5}]
    assert plain["changes"][0]["requests"]["out"] == {"who": "Ana", "origin": "direct"}


def test_lessons_and_odd_openings_are_short_too():
    """Each candidate's warmth before and after."""
    body = {name: [{"before": [1.0], "after": [2.0]}] for name in ("lessons", "odd")}
    plain = shorten(plain_of(heaters={"a/b": {"body": body}}))
    each = [{"before": row_text([1.0]), "after": row_text([2.0])}]
    assert plain["heaters"]["a/b"]["body"] == {"lessons": each, "odd": each}


def test_nothing_and_a_thousandth_are_short():
    """And what three bytes hold, save the last."""
    assert row_text([0.0, 0.001]) == "AAAAAAAB"
    assert row_text([16777.214]) == "///+"
    assert row_text([16777.215]) == [16777.215]


def test_a_row_that_ends_amid_a_number_says_so():
    """Four letters are one number."""
    with pytest.raises(ValueError, match=r"^a row of a heater's body ends amid a number$"):
        row_numbers("Zm9vYg==")


@pytest.mark.parametrize(
    ("value", "kind"),
    [(MOST_WHOLE, float), (MOST_WHOLE - 1.0, int), (2.5, float), (-0.0, float), (-3.0, int), (False, bool)],
)
def test_whole_numbers_are_written_as_such(value, kind):
    """Up to a bound; a zero keeps its sign."""
    found = shorten(plain_of(models={"at": [value]}))["models"]["at"][0]
    assert (found, type(found)) == (value, kind)


def test_a_bodys_rows_are_short_and_come_back_the_same():
    """Base64 of RFC 4648, section 10: its own test vectors; thousandths in three bytes, most significant first."""
    foobar = [int.from_bytes(part, "big") / 1000.0 for part in (b"foo", b"bar")]
    assert row_text(foobar) == "Zm9vYmFy"
    assert row_numbers("Zm9vYmFy") == foobar
    rows = {"warmth": [57.511, 0.0, 16777.0], "most": [0.1, 0.25, 3.0], "opens": [277.4] * 11}
    shares = [0.00971, 0.99029]
    lesson = Lesson(1.0, [249.349, 244.86], [12.0, 0.001], 60.0)
    body = BodyMemory(**rows, weights=shares, fall=lesson, lessons=[lesson], odd=[lesson])
    plain = to_plain(Memory(heaters={"study/column": HeaterMemory(body=body)}))
    kept = json.loads(json.dumps(plain))["heaters"]["study/column"]["body"]
    kept = kept if isinstance(kept, dict) else table_of(kept)
    assert {name: kept[name] for name in rows} == {name: row_text(row) for name, row in rows.items()}
    assert kept["weights"] == row_text(shares, 1e5)
    assert kept["odd"][0]["before"] == kept["fall"]["before"] == row_text(lesson.before)
    assert from_plain(plain).heaters["study/column"].body == body


def test_warmth_that_is_proven_as_it_is_is_kept_once():
    """And comes back as two lists that change apart."""
    memory = Memory(heaters={"study/column": HeaterMemory(body=BodyMemory(warmth=[57.5], proven=[57.5]))})
    plain = to_plain(memory)
    assert plain["heaters"]["study/column"]["body"] == {"warmth": row_text([57.5]), "proven": "warmth"}
    back = from_plain(plain)
    assert back == memory
    body = back.heaters["study/column"].body
    body.warmth[0] = 0.0
    assert body.proven == [57.5]


@pytest.mark.parametrize("row", [[1.0004], [-0.001], [16777.215], [float("nan")], [float("inf")]])
def test_a_row_that_shortening_would_change_stays_as_it_is(row):
    """As does one of an older memory."""
    assert row_text(row) is row
    plain = {"heaters": {"study/column": {"body": {"warmth": [1.0004, 2.0]}}}}
    assert from_plain(plain).heaters["study/column"].body.warmth == [1.0004, 2.0]


def test_a_trail_is_one_row_of_seconds_since():
    """And comes back as it was, to the last bit; where adding up would not give a time again, it stays as it is."""
    trail = [(1060.0, 17.384), (1360.0, 17.584), (1660.3, 17.6)]
    assert flat(trail[:2]) == [1060.0, 17.384, 300.0, 17.584]
    for one in (trail[:2], trail, [(0.1, 1.0), (1e9 / 3.0, 2.0)], []):
        memory = Memory(rooms={"study": RoomMemory(air=AirMemory(trail=one))})
        assert from_plain(json.loads(json.dumps(to_plain(memory)))).rooms["study"].air.trail == one
    assert flat([(1e16, 1.0), (1.5, 2.0)]) == [[1e16, 1.0], [1.5, 2.0]]


@pytest.mark.parametrize("text", ["Zm9vYm", "Zm9vYmE=", "no base64!"])
def test_a_row_that_is_none_is_an_error(text):
    """Never a number that nobody wrote."""
    with pytest.raises(ValueError, match=r"."):
        from_plain({"heaters": {"study/column": {"body": {"warmth": text}}}})
