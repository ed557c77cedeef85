"""What comes in from outside is taken for what it is, and no more."""

import math
from datetime import UTC, datetime

import pytest

from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.said import When, from_plain, plain_of, said
from thermostatd.core.values import Moment, is_finite


@pytest.mark.parametrize(
    ("value", "number"),
    [
        (1.5, True),
        (0, True),
        (-3, True),
        (True, False),
        (False, False),
        (None, False),
        ("1", False),
        (math.nan, False),
        (math.inf, False),
        (-math.inf, False),
        (10**400, False),
        ([], False),
        (1 + 0j, False),
    ],
)
def test_a_finite_number_is_no_more_and_no_less(value, number):
    """A yes or no is none, nor what no float holds."""
    assert is_finite(value) is number


def test_a_moment_needs_a_zone():
    """Said with the mend."""
    assert Moment(datetime(2026, 1, 1, tzinfo=UTC), 5.0).steady == 5.0
    with pytest.raises(ValueError, match=r"^Moment\.wall needs a time zone: use datetime\.now\(UTC\)$"):
        Moment(datetime(2026, 1, 1), 5.0)  # noqa: DTZ001


CODES = {"A {thing:.1f}": "a-code"}


def test_a_sentence_remembers_what_it_was_made_of():
    """By its code where there is one; and is made again."""
    inner = said("at {at}", at=When("16:40", 99.0))
    whole = said("A {thing:.1f}", thing=1.23456, more=inner)
    assert whole == "A 1.2"
    plain = plain_of(whole, CODES)
    assert plain == ["=a-code", {"thing": 1.235, "more": ["at {at}", {"at": [99.0]}]}]
    again = from_plain(plain, {"a-code": "A {thing:.1f}"}, lambda wall: f"clock {wall:.0f}")
    assert (again, again.numbers["more"]) == ("A 1.2", "at clock 99")
    assert again.numbers["more"].numbers["at"].wall == 99.0
    assert plain_of("just text", CODES) == "just text"
    assert from_plain("just text", {}, str) == "just text"


def test_braces_in_a_text_of_someone_else_stay_braces():
    """Its template gives the text again."""
    from thermostatd.core.said import Said

    odd = Said("a {b} c")
    assert odd.template.format() == "a {b} c"
    assert (odd.numbers, Said("x", "y {z}", {"z": 1.0}).template) == ({}, "y {z}")


def test_a_copy_of_a_sentence_is_text():
    """It can be kept and sent."""
    import copy
    import pickle

    for one in (said("A {b}", b=1.0), When("16:40", 5.0)):
        assert type(copy.deepcopy(one)) is str
        assert pickle.loads(pickle.dumps(one)) == str(one)
    assert Memory(heaters={"a/b": HeaterMemory()}).version == 1
