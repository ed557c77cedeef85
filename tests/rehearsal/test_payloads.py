"""Documents by pointer, words for on and off, and what a message means to a plug."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.core.house import MqttPlug, Sensor
from thermostatd.rehearsal.payloads import document, order_in, raw_celsius, word


def at(document_text, pointer):
    """RFC 6901, as any reader of the payload would do it."""
    value = json.loads(document_text)
    for part in pointer[1:].split("/") if pointer else []:
        part = part.replace("~1", "/").replace("~0", "~")
        value = value[int(part)] if isinstance(value, list) else value[part]
    return value


def test_several_pointers_into_one_topic_become_one_document():
    """Each value is found again by its own pointer, lists and escapes included."""
    pairs = [("/on", True), ("/power/0/watts", 541.0), ("/power/0/volts", 231.2), ("/a~1b/m~0n", "x")]
    text = document(pairs)
    assert [at(text, pointer) for pointer, _ in pairs] == [value for _, value in pairs]
    assert isinstance(json.loads(text)["power"], list)


def test_without_a_pointer_the_payload_is_the_value():
    """Numbers stand plain and words keep their spelling."""
    assert document([("", 19.4)]) == "19.4"
    assert document([("", "ON")]) == "ON"
    assert word("true", "") == "true"


@pytest.mark.parametrize(("payload", "value"), [("true", True), ("1", 1), ("ON", "ON"), ('"on"', "on")])
def test_words_in_a_document_are_what_json_says(payload, value):
    """`true` becomes a JSON truth, a plain word becomes text."""
    assert word(payload, "/on") == value


def test_pointers_that_disagree_are_refused():
    """One pointer cannot end where another goes on."""
    with pytest.raises(ValueError, match="disagree"):
        document([("/a", 1), ("/a/b", 2)])


@given(st.floats(-30, 40), st.sampled_from(["C", "F"]), st.sampled_from([0.1, 0.01, 1.0]), st.floats(-3, 3))
def test_a_sensors_raw_value_reads_back(celsius, unit, scale, offset):
    """Unit, scale and offset of the file, applied to what is published, give the temperature."""
    sensor = Sensor(topic="s", unit=unit, scale=scale, offset=offset)
    read = raw_celsius(sensor, celsius) * scale
    read = (read - 32) / 1.8 if unit == "F" else read
    assert read + offset == pytest.approx(celsius, abs=1e-3)


def test_orders_are_read_as_the_file_writes_them():
    """ON, OFF and timed ON are told apart; anything else means nothing."""
    plug = MqttPlug(tell="p/set", on="true", off="false", timer={"payload": "true {seconds}"})
    assert order_in(plug, "p/set", "true 900") == (True, 900.0)
    assert order_in(plug, "p/set", "true") == (True, math.inf)
    assert order_in(plug, "p/set", "false") == (False, math.inf)
    for payload in ("true x", "TRUE", "", "true 900 "):
        assert order_in(plug, "p/set", payload) is None
    assert order_in(plug, "q/set", "true") is None


def test_a_timer_of_its_own_topic_with_json():
    """A timer may have its own topic and a payload with braces."""
    timer = {"topic": "p/timer", "payload": '{"for": {seconds}}'}
    plug = MqttPlug(tell="p/set", timer=timer)
    assert order_in(plug, "p/timer", '{"for": 60}') == (True, 60.0)
    assert order_in(plug, "p/set", '{"for": 60}') is None
