"""The very form in which a plain memory is packed: what an older or a damaged one looks like is held elsewhere."""

import pytest

from thermostatd.core.packing import MOST_WHOLE, pack, packed, unpack, unpacked


def plain_of(**tables):
    """A plain memory of these tables."""
    return {"rooms": {}, "heaters": {}, "changes": [], **tables}


def test_points_in_time_are_rows_of_seconds_since():
    """Of a room's air and of its window."""
    trail, points = [(1060.0, 17.384), (1360.0, 17.5)], [[10.0, 18.5], [130.0, 18.25]]
    rooms = {"study": {"air": {"trail": trail}, "window": {"points": points}}}
    plain = pack(plain_of(rooms=rooms))
    assert plain["rooms"] == {
        "study": {"air": {"trail": [1060, 17.384, 300, 17.5]}, "window": {"points": [10, 18.5, 120, 18.25]}}
    }
    unpack(plain)
    assert plain["rooms"]["study"]["air"]["trail"] == [[1060, 17.384], [1360, 17.5]]
    assert plain["rooms"]["study"]["window"]["points"] == points


def test_facts_and_requests_are_rows_without_names():
    """In the order of their fields."""
    facts = {
        "levels": [{"watts": 600.5, "spread_watts": 5.0}],
        "trips": [{"at_wall": 1.5, "run_seconds": 2.0}],
    }
    changes = [{"number": 1, "requests": {"out": {"who": "Ana", "origin": "direct"}, "room:study": None}}]
    plain = pack(plain_of(heaters={"a/b": {"facts": facts}}, changes=changes))
    assert plain["heaters"]["a/b"]["facts"] == {"levels": [[600.5, 5]], "trips": [[1.5, 2]]}
    assert plain["changes"] == [{"number": 1, "requests": {"out": ["Ana", "direct"], "room:study": None}}]
    unpack(plain)
    assert plain["heaters"]["a/b"]["facts"]["levels"] == [{"watts": 600.5, "spread_watts": 5}]
    assert plain["changes"][0]["requests"]["out"] == {"who": "Ana", "origin": "direct"}


def test_lessons_and_odd_openings_are_packed_too():
    """Each candidate's warmth before and after."""
    body = {name: [{"before": [1.0], "after": [2.0]}] for name in ("lessons", "odd")}
    plain = pack(plain_of(heaters={"a/b": {"body": body}}))
    packed_one = [{"before": packed([1.0]), "after": packed([2.0])}]
    assert plain["heaters"]["a/b"]["body"] == {"lessons": packed_one, "odd": packed_one}


def test_nothing_and_a_thousandth_are_packed():
    """And what three bytes hold, save the last."""
    assert packed([0.0, 0.001]) == "AAAAAAAB"
    assert packed([16777.214]) == "///+"
    assert packed([16777.215]) == [16777.215]


def test_a_row_that_ends_amid_a_number_says_so():
    """Four letters are one number."""
    with pytest.raises(ValueError, match=r"^a row of a heater's body ends amid a number$"):
        unpacked("Zm9vYg==")


@pytest.mark.parametrize(
    ("value", "kind"), [(MOST_WHOLE, float), (MOST_WHOLE - 1.0, int), (2.5, float), (-0.0, float)]
)
def test_whole_numbers_are_written_as_such(value, kind):
    """Up to a bound; a zero keeps its sign."""
    found = pack(plain_of(models={"at": [value]}))["models"]["at"][0]
    assert (found, type(found)) == (value, kind)
