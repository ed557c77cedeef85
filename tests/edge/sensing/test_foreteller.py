"""From a message on the forecast's topic to the outdoor air of the coming hours. The house is invented."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.core.house import House
from thermostatd.edge.broker import Heard
from thermostatd.edge.broker_payload import LARGEST_PAYLOAD_BYTES
from thermostatd.edge.sensing import Sensing

START = datetime(2026, 1, 31, 6, 30, tzinfo=UTC)
FRONT = [4.0, 2.0, -6.0]


class Scene:
    """A house with a forecast whose clocks are numbers and whose messages are given by hand."""

    def __init__(self, **source: object) -> None:
        forecast = {"topic": "hours"} | source
        room = {"name": "study", "sensor": {"topic": "a"}}
        house = House.model_validate({"room": [room], "house": {"forecast": forecast}})
        self.steady = 10_000.0
        self.sensing = Sensing(house, lambda: self.steady, self.wall)

    def wall(self) -> datetime:
        """The time of day now."""
        return START + timedelta(seconds=self.steady - 10_000)

    def say(self, told: object, *, retained: bool = False, refused: str | None = None) -> None:
        """A message that arrives now: bytes as they are, anything else as JSON."""
        body = told if isinstance(told, bytes) else json.dumps(told).encode()
        self.sensing.take(Heard("hours", body, retained, self.steady, refused))

    def heard(self, told: object, **how: bool) -> tuple[tuple[float, ...], tuple[str, ...]]:
        """What such a message brings, and what the log is told of it."""
        self.say(told, **how)  # type: ignore[arg-type]
        collected = self.sensing.collect()
        return collected.forecast, collected.notes


def test_an_array_is_the_forecast_from_now_once() -> None:
    """It is told on as it stands, and not again while nothing is new."""
    scene = Scene()
    assert "hours" in scene.sensing.topics()
    assert scene.heard(FRONT) == ((4.0, 2.0, -6.0), ())
    assert scene.sensing.collect().forecast == ()


def test_pointer_and_unit_are_the_files() -> None:
    """32, 50 and -40 °F are 0, 10 and -40 °C (the definition)."""
    scene = Scene(pointer="/air/hourly", unit="F")
    found, notes = scene.heard({"air": {"hourly": [32, 50.0, -40]}, "wind": [1, 2]})
    assert found == pytest.approx((0.0, 10.0, -40.0))
    assert notes == ()


@pytest.mark.parametrize(
    ("told", "why"),
    [
        (12.5, "is no array of numbers"),
        ({"hourly": FRONT}, "is no array of numbers"),
        (b"4, 2, -6", "is no array of numbers"),
        (b"", "the payload is empty"),
        (b"\xff\xfe", "not UTF-8"),
        ([], "0 numbers, and a forecast has 2 to 240"),
        ([4.0], "1 numbers, and a forecast has 2 to 240"),
        ([4.0] * 241, "241 numbers, and a forecast has 2 to 240"),
        ([4.0, math.nan], '"nan", at place 1, is no number'),
        ([math.inf, 4.0], '"inf", at place 0, is no number'),
        ([4.0, None, 3.0], '"None", at place 1, is no number'),
        ([4.0, True], '"True", at place 1, is no number'),
        ([4.0, "3.5"], '"3.5", at place 1, is no number'),
        ([4.0, [3.5]], '"[3.5]", at place 1, is no number'),
        ([4.0, -61], "-61.0 °C, at place 1, is not plausible outdoors (-60 to 60 °C are)"),
        ([4.0, 61], "61.0 °C, at place 1, is not plausible outdoors (-60 to 60 °C are)"),
        (b"[1, 2" + b" " * LARGEST_PAYLOAD_BYTES + b"]", "over the 16384 that are read"),
    ],
)
def test_what_makes_no_sense_brings_nothing_and_is_told_once(told: object, why: str) -> None:
    """The log names the topic and the reason, not again for the next of the kind, and again after a good one."""
    scene = Scene()
    found, notes = scene.heard(told)
    assert found == ()
    assert len(notes) == 1
    assert notes[0].startswith("forecast: hours: ")
    assert why in notes[0]
    assert scene.heard(told) == ((), ())
    assert scene.heard(FRONT) == ((4.0, 2.0, -6.0), ())
    assert len(scene.heard(told)[1]) == 1


def test_a_message_that_the_broker_side_refused_says_why() -> None:
    """Such as one over the limit, of which nothing is kept."""
    scene = Scene()
    scene.say(b"", refused="a payload of 20000 bytes")
    collected = scene.sensing.collect()
    assert collected.forecast == ()
    assert collected.notes == ("forecast: hours: a payload of 20000 bytes",)


def test_a_retained_one_without_a_time_waits_for_a_live_one() -> None:
    """It may be days old."""
    scene = Scene()
    found, notes = scene.heard(FRONT, retained=True)
    assert found == ()
    assert "may be days old" in notes[0]
    assert scene.heard(FRONT)[0] == (4.0, 2.0, -6.0)


@pytest.mark.parametrize("retained", [True, False])
@pytest.mark.parametrize(
    ("minutes", "found"),
    [(0, (4.0, 2.0, -6.0)), (1, (4.0, 2.0, -6.0)), (30, (3.0, -2.0)), (60, (2.0, -6.0)), (61, ()), (600, ())],
)
def test_one_with_its_time_is_moved_on_to_now(minutes: int, found: tuple[float, ...], retained: bool) -> None:
    """By straight lines; a retained one too; where fewer than two values are left it brings nothing."""
    scene = Scene(pointer="/hourly", time="/at")
    told = {"hourly": FRONT, "at": (scene.wall() - timedelta(minutes=minutes)).isoformat()}
    heard, notes = scene.heard(told, retained=retained)
    assert heard == pytest.approx(found)
    assert bool(notes) is not bool(found)


def test_a_time_that_cannot_be_brings_nothing() -> None:
    """An hour ahead, without an offset, or missing: the log says which."""
    for at, why in ((START + timedelta(hours=1), "future"), ("2026-01-31T06:30", "offset"), (None, "/at")):
        scene = Scene(pointer="/hourly", time="/at")
        stamp = at.isoformat() if isinstance(at, datetime) else at
        found, notes = scene.heard({"hourly": FRONT} | ({"at": stamp} if stamp else {}))
        assert found == ()
        assert why in notes[0]


def test_an_older_one_does_not_take_the_place_of_a_newer() -> None:
    """Two scripts, or one that stumbles."""
    scene = Scene(pointer="/hourly", time="/at")
    assert scene.heard({"hourly": FRONT, "at": START.isoformat()})[0]
    scene.steady += 60.0
    found, notes = scene.heard({"hourly": [9.0, 9.0, 9.0], "at": (START - timedelta(hours=1)).isoformat()})
    assert found == ()
    assert "older" in notes[0]


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.floats(-80, 80) | st.text(max_size=5)
    | st.integers(10**300, 10**320),
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(st.sampled_from(["hourly", "0"]), inner),
    max_leaves=12,
)  # fmt: skip
ARRAYS = st.lists(st.floats(-80, 80) | st.integers(-80, 80), max_size=250)


@given(
    st.lists(
        st.one_of(st.binary(max_size=40), VALUES, ARRAYS, VALUES.map(lambda v: {"hourly": v})), max_size=4
    ),
    st.sampled_from(["", "/hourly", "/hourly/0"]),
    st.sampled_from(["C", "F"]),
)
def test_whatever_is_sent_is_a_forecast_or_nothing(sent: list[object], pointer: str, unit: str) -> None:
    """Never an error: 2 to 240 plausible numbers, or nothing new and a sentence that says why."""
    scene = Scene(pointer=pointer, unit=unit)
    for told in sent:
        scene.say(told)
        found = scene.sensing.collect().forecast
        assert found == () or 2 <= len(found) <= 240
        assert all(isinstance(one, float) and -60.0 <= one <= 60.0 for one in found)
