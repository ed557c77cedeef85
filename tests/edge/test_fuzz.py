"""Whatever arrives on any topic: a number in range, a word, or a reason that names the place; never another error.

Rules: documents, pointers and messages come from hypothesis; a few in CI, many at night.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as some

from thermostatd.core.house import House
from thermostatd.core.values import Missing, PlugReport, Reading
from thermostatd.edge.broker import Heard
from thermostatd.edge.broker_payload import number_from, value_at, word_from
from thermostatd.edge.homie import devices_in
from thermostatd.edge.plugs.hearing import Hearing
from thermostatd.edge.sensing import Sensing

START = datetime(2026, 1, 31, 6, 30, tzinfo=UTC)
LEAVES = (
    some.none() | some.booleans() | some.floats() | some.integers() | some.integers(10**300, 10**320) | some.text()
    | some.sampled_from(["true", "false", "19.4", "nan", "1e999", "-127", "85", "ready", "lost", "°C", "C", "on"])
)  # fmt: skip
KEYS = some.sampled_from(
    ["celsius", "on", "watts", "a/b", "m~n", "", "0", "homie", "nodes", "properties", "datatype", "root"]
)
DOCUMENTS = some.recursive(
    LEAVES, lambda inner: some.lists(inner, max_size=4) | some.dictionaries(KEYS, inner, max_size=4)
)
PAYLOADS = (
    DOCUMENTS.map(lambda value: json.dumps(value).encode())
    | some.binary(max_size=60)
    | DOCUMENTS.map(lambda value: json.dumps(value).encode()[:-1])
    | LEAVES.map(lambda value: str(value).encode("utf-8", "replace"))
)
POINTERS = some.lists(
    some.sampled_from(["celsius", "on", "0", "-", "~0", "~1", "~2", "~", "00", "é", "a~1b"])
    | some.text(max_size=4)
)
POINTER = POINTERS.map(lambda parts: "".join("/" + part for part in parts)) | some.text(max_size=8)

LATER = some.floats(0, 5000)

few, many = settings(max_examples=150), settings(max_examples=40_000)


def both(rule: Callable[..., None]) -> Callable[..., None]:
    """Runs a rule a few times in CI, and many times at night."""
    return pytest.mark.parametrize(
        "often",
        [few, pytest.param(many, marks=[pytest.mark.night, pytest.mark.timeout(1200)])],
        ids=["few", "many"],
    )(rule)


@both
def test_any_pointer_into_any_document(often: settings) -> None:
    """A pointer, sound or not, leads to a value of the document, or to a reason that is one short line."""

    @often
    @given(PAYLOADS, POINTER)
    @example(b'{"a": 1}', "a")
    @example(b"[[]]", "/0/0/0")
    def rule(payload: bytes, pointer: str) -> None:
        found = value_at(payload, pointer)
        number = number_from(payload, pointer, lowest=-50, highest=150)
        word = word_from(payload, pointer)
        for one in (found, number, word):
            if isinstance(one, Missing):
                assert 0 < len(one.why) < 200
                assert "\n" not in one.why
                assert "Traceback" not in one.why
        assert isinstance(number, Missing) or (-50 <= number <= 150 and not isinstance(number, bool))
        assert isinstance(word, str | Missing)

    rule()


SENSORS: list[dict[str, Any]] = [
    {"topic": "t", "pointer": "/celsius", "time": "/a~1b", "battery": {"topic": "t", "pointer": "/0"}},
    {
        "topic": "t",
        "unit": "F",
        "scale": 0.1,
        "offset": -3.0,
        "present": {"topic": "t", "yes": "ready", "no": "lost"},
    },
    {"topic": "u", "time": "", "stale_after": "10 min"},
]


@both
def test_any_message_to_a_sensor(often: settings) -> None:
    """Whatever a room's sensors send, in whatever order and however late: a plausible reading or a reason."""
    house = House.model_validate(
        {"room": [{"name": "study", "sensors": SENSORS, "humidity": {"topic": "t", "pointer": "/watts"}}]}
    )

    @often
    @given(
        some.lists(
            some.tuples(some.sampled_from("tu"), PAYLOADS, some.booleans(), some.floats(0, 5000)), max_size=8
        )
    )
    def rule(messages: list[tuple[str, bytes, bool, float]]) -> None:
        steady = [10_000.0]
        sensing = Sensing(house, lambda: steady[0], lambda: START + timedelta(seconds=steady[0]))
        for topic, payload, retained, later in messages:
            steady[0] += later
            sensing.take(Heard(topic, payload, retained, steady[0], None))
            found = sensing.collect()
            air = found.air.get("study")
            assert air is None or isinstance(air, Reading | Missing)
            if isinstance(air, Reading):
                assert -30 <= air.celsius <= 60
                assert air.at is None or air.at <= steady[0]
            for humidity in found.humidity_percent.values():
                assert isinstance(humidity, Missing) or 0 <= getattr(humidity, "percent", humidity) <= 100
            assert all("\n" not in note and len(note) < 400 for note in found.notes)

    rule()


@both
def test_any_message_to_a_plug(often: settings) -> None:
    """Whatever a plug sends, its report holds true or false, finite watts in range, and moments that were."""
    plug = {
        "kind": "mqtt", "tell": "p/set", "on": "on", "off": "off", "timer": {"payload": "on {seconds}"},
        "shows": {"topic": "p", "pointer": "/on"}, "draws": {"topic": "p", "pointer": "/watts", "scale": 1000.0},
        "volts": {"topic": "v"}, "warm": {"topic": "p", "pointer": "/celsius"},
        "present": {"topic": "v", "yes": "ready", "no": "lost"},
    }  # fmt: skip
    heater = {"name": "column", "watts": 600, "plug": plug}
    house = House.model_validate({"room": [{"name": "study", "sensor": {"topic": "t"}, "heater": [heater]}]})
    described: Any = house.rooms[0].heaters[0].plug

    @often
    @given(some.lists(some.tuples(some.sampled_from("pv"), PAYLOADS, some.booleans()), max_size=8))
    def rule(messages: list[tuple[str, bytes, bool]]) -> None:
        hearing = Hearing("study/column", described)
        for second, (topic, payload, retained) in enumerate(messages):
            hearing.take(Heard(topic, payload, retained, float(second), None))
            report = hearing.news() or PlugReport()
            assert report.on in (True, False, None)
            assert report.watts is None or (math.isfinite(report.watts) and -50 <= report.watts <= 50_000)
            assert report.volts is None or 0 <= report.volts <= 500
            assert report.warm_celsius is None or -40 <= report.warm_celsius <= 200
            assert report.on_at is None or report.on_at <= second

    rule()


@both
def test_any_device_that_introduces_itself(often: settings) -> None:
    """A description of any shape is a device or one sentence that names the device."""

    @often
    @given(DOCUMENTS, some.sampled_from(["5", "5.0", "4.0.0", ""]), some.text(max_size=6))
    def rule(document: object, version: str, state: str) -> None:
        told = {"homie": version, "nodes": document} if version.startswith("5") else document
        whole = {
            "homie/5/plug-1/$state": state, "homie/5/plug-1/$description": json.dumps(told),
            "homie/old/$state": state, "homie/old/$homie": version, "homie/old/$nodes": str(document)[:50],
        }  # fmt: skip
        devices, odd = devices_in(whole)
        assert len(devices) + len(odd) <= 2
        assert all(sentence.startswith("the device at homie/") and len(sentence) < 250 for sentence in odd)
        for device in devices:
            assert all(one.topic.startswith("homie/") for one in device.properties)

    rule()
