"""Values out of payloads."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.core.values import Missing
from thermostatd.edge.broker_inbox import MOST_TOPICS, Inbox, heard
from thermostatd.edge.broker_payload import number_from, value_at, word_from

# RFC 6901 section 5: the document and every pointer with its value, as published (from memory).
RFC_DOCUMENT = (
    rb'{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6,'
    rb' " ": 7, "m~n": 8}'
)
RFC_VALUES = {
    "": json.loads(RFC_DOCUMENT),
    "/foo": ["bar", "baz"],
    "/foo/0": "bar",
    "/": 0,
    "/a~1b": 1,
    "/c%d": 2,
    "/e^f": 3,
    "/g|h": 4,
    "/i\\j": 5,
    '/k"l': 6,
    "/ ": 7,
    "/m~0n": 8,
}


@pytest.mark.parametrize(("pointer", "value"), RFC_VALUES.items())
def test_pointers_of_rfc_6901(pointer: str, value: object) -> None:
    """Each example of the standard leads to its value."""
    assert value_at(RFC_DOCUMENT, pointer) == value


@pytest.mark.parametrize(
    "pointer", ["/foo/2", "/foo/-", "/foo/00", "/foo/01", "/foo/-1", "/foo/bar", "/nothing", "/a~1b/c"]
)
def test_pointers_to_nothing(pointer: str) -> None:
    """An index that is past the end, negative, `-` or has leading zeros leads to nothing, by name."""
    found = value_at(RFC_DOCUMENT, pointer)
    assert isinstance(found, Missing)
    assert pointer in found.why


def test_tilde_is_unescaped_last() -> None:
    """`~01` is the key `~1`, not `/` (RFC 6901 section 4)."""
    assert value_at(b'{"~1": 1, "/": 2}', "/~01") == 1


@pytest.mark.parametrize(
    ("payload", "pointer", "number"),
    [
        (b"19.4", "", 19.4),
        (b" 19.4\n", "", 19.4),
        (b"-3", "", -3.0),
        (b"+.5e1", "", 5.0),
        (b'"19.4"', "", 19.4),
        (b'{"celsius": 19.4}', "/celsius", 19.4),
        (b'{"celsius": "19.4"}', "/celsius", 19.4),
        (b'[{"t": 1}, {"t": 2}]', "/1/t", 2.0),
    ],
)
def test_numbers(payload: bytes, pointer: str, number: float) -> None:
    """A number is read plain or in JSON, as a number or as a text that holds one."""
    assert number_from(payload, pointer) == number


BAD = [
    (b"nan", "", "not a finite number"),
    (b"-inf", "", "not a finite number"),
    (b"Infinity", "", "not a finite number"),
    (b'{"c": NaN}', "/c", "not a finite number"),
    (b'{"c": 1e999}', "/c", "not a finite number"),
    (b"1" * 400, "", "too large"),
    (b"true", "", "boolean true"),
    (b'{"c": false}', "/c", "boolean false"),
    (b'{"c": "warm"}', "/c", '"warm" is not a number'),
    (b"19,4", "", '"19,4" is not a number'),
    (b"1_9", "", "is not a number"),
    (b"0x13", "", "is not a number"),
    ("١٩".encode(), "", "is not a number"),
    (b'{"c": null}', "/c", "null"),
    (b"null", "", "null"),
    (b'{"c": {"d": 1}}', "/c", "an object"),
    (b'{"c": [1]}', "/c", "a list"),
    (b"\xff\xfe19", "", "not UTF-8"),
    (b"", "", "empty"),
    (b"   ", "", "empty"),
    (b'{"c": 19.4', "/c", "not valid JSON"),
    (b"19.4", "/c", "nothing at /c"),
    (b'{"d": 1}', "/c", "nothing at /c"),
    (b"9" * 10_000_000, "", "10000000 bytes"),
    (b"[" * 16_000, "/0", "not valid JSON"),
    (b"200", "", "outside -100 to 100"),
]


@pytest.mark.parametrize(("payload", "pointer", "why"), BAD, ids=[why for _, _, why in BAD])
def test_bad_numbers_are_named(payload: bytes, pointer: str, why: str) -> None:
    """What is no proper number is Missing, and says what stood there."""
    found = number_from(payload, pointer, lowest=-100, highest=100)
    assert isinstance(found, Missing)
    assert why in found.why
    assert len(found.why) < 120


@given(st.binary(max_size=200), st.sampled_from(["", "/a", "/0/b"]))
def test_nothing_raises(payload: bytes, pointer: str) -> None:
    """Whatever is sent, the answer is a finite number in range or Missing."""
    found = number_from(payload, pointer, lowest=-50, highest=50)
    assert isinstance(found, Missing) or (math.isfinite(found) and -50 <= found <= 50)
    assert isinstance(word_from(payload, pointer), (str, Missing))


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    )
)
def test_any_json_gives_a_number_or_missing(value: object) -> None:
    """Any JSON document gives a finite number or Missing, and a boolean is never a number."""
    found = number_from(json.dumps(value).encode())
    assert isinstance(found, Missing) or math.isfinite(found)
    assert not (isinstance(value, bool) and not isinstance(found, Missing))


def test_scale() -> None:
    """The scale is applied before the bounds."""
    assert number_from(b"0.541", scale=1000, lowest=0, highest=4000) == pytest.approx(541)


@pytest.mark.parametrize(
    ("payload", "pointer", "word"),
    [
        (b"true", "", "true"),
        (b"ON", "", "ON"),
        (b'"on"', "", "on"),
        (b"1", "", "1"),
        (b'{"on": true}', "/on", "true"),
        (b'{"on": "ON"}', "/on", "ON"),
        (b'{"on": 1}', "/on", "1"),
        (b'{"on": 0}', "/on", "0"),
    ],
)
def test_words(payload: bytes, pointer: str, word: str) -> None:
    """A word is its own text; JSON true is `true` and the number 1 is `1`."""
    assert word_from(payload, pointer) == word


@pytest.mark.parametrize("payload", [b"null", b"{}", b"[]", b"\xff", b""])
def test_no_words(payload: bytes) -> None:
    """What is no plain value is no word."""
    assert isinstance(word_from(payload), Missing)


def test_inbox_keeps_the_latest_in_order() -> None:
    """The latest of each topic waits, oldest first, and a retained one beside a live one."""
    inbox = Inbox()
    for topic, payload, retained in (
        ("a", b"1", False),
        ("b", b"2", False),
        ("a", b"3", False),
        ("b", b"4", True),
    ):
        inbox.put(heard(topic, payload, retained, 0.0))
    assert [(message.topic, message.payload) for message in inbox.drain()] == [
        ("b", b"2"),
        ("a", b"3"),
        ("b", b"4"),
    ]
    assert inbox.drain() == []


def test_inbox_is_bounded() -> None:
    """More topics than it holds are counted and dropped; what waits stays, and can still be replaced."""
    inbox = Inbox()
    for number in range(MOST_TOPICS + 10):
        inbox.put(heard(str(number), b"", False, 0.0))
    inbox.put(heard("0", b"new", False, 0.0))
    assert inbox.dropped == 10
    waiting = inbox.drain()
    assert len(waiting) == MOST_TOPICS
    assert waiting[-1].payload == b"new"
