"""From messages to what the rooms feel. The house is invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from thermostatd.core.house import House
from thermostatd.core.values import Missing, Reading
from thermostatd.edge.broker import Heard
from thermostatd.edge.sensing import Sensing

START = datetime(2026, 1, 31, 6, 30, tzinfo=UTC)


class Scene:
    """A house whose clocks are numbers and whose messages are given by hand."""

    def __init__(self, *sensors: dict[str, object], humidity: object = None, outdoor: object = None) -> None:
        room: dict[str, object] = {"name": "study", "sensors": list(sensors)}
        if humidity:
            room["humidity"] = humidity
        house = House.model_validate({"room": [room], "house": {"outdoor": outdoor} if outdoor else {}})
        self.steady = 10_000.0
        self.sensing = Sensing(
            house, lambda: self.steady, lambda: START + timedelta(seconds=self.steady - 10_000)
        )

    def say(
        self, topic: str, payload: str | bytes, *, retained: bool = False, refused: str | None = None
    ) -> None:
        """A message that arrives now."""
        body = payload.encode() if isinstance(payload, str) else payload
        self.sensing.take(Heard(topic, body, retained, self.steady, refused))

    def air(self) -> Reading | Missing | None:
        """What is new of the study's air."""
        return self.sensing.collect().air.get("study")


def test_topics() -> None:
    """Every topic of the house is asked for once."""
    scene = Scene(
        {"topic": "a", "present": {"topic": "a/there"}, "battery": {"topic": "a", "pointer": "/b"}},
        humidity={"topic": "h"},
        outdoor={"topic": "o"},
    )
    assert sorted(scene.sensing.topics()) == ["a", "a/there", "h", "o"]


def test_one_value_once() -> None:
    """A value arrives as a reading of its arrival, and is not told again while nothing is new."""
    scene = Scene({"topic": "a"})
    assert scene.air() is None
    scene.say("a", "19.4")
    assert scene.air() == Reading(19.4, 10_000.0)
    scene.steady += 7200
    assert scene.air() is None


def test_a_foreign_topic_is_left_alone() -> None:
    """A message of another topic changes nothing."""
    scene = Scene({"topic": "a"})
    scene.say("b", "19.4")
    assert scene.air() is None


@pytest.mark.parametrize(
    ("payload", "why"),
    [
        ("-127", "cannot measure"),
        ("85", "cannot measure"),
        ("NaN", "not a finite number"),
        ("68", "not plausible"),
        ("warm", "is not a number"),
        ("true", "boolean"),
        (b"\xff", "not UTF-8"),
    ],
)
def test_a_bad_value_is_missing_at_once(payload: str | bytes, why: str) -> None:
    """A bad value takes the place of the good one before it, by name, until the next good one."""
    scene = Scene({"topic": "a"})
    scene.say("a", "19.4")
    scene.say("a", payload)
    said = scene.air()
    assert isinstance(said, Missing)
    assert why in said.why
    scene.say("a", "19.5")
    assert scene.air() == Reading(19.5, 10_000.0)


def test_ten_megabytes_are_missing_by_name() -> None:
    """A payload that was too large to keep is named."""
    scene = Scene({"topic": "a"})
    scene.say("a", b"", refused="a payload of 10000000 bytes, over the 16384 that are read")
    said = scene.air()
    assert isinstance(said, Missing)
    assert "10000000 bytes" in said.why


def test_retained_without_time_is_not_fresh() -> None:
    """A retained value without its own time brings nothing but one note."""
    scene = Scene({"topic": "a"})
    scene.say("a", "19.4", retained=True)
    scene.say("a", "19.4", retained=True)
    collected = scene.sensing.collect()
    assert collected.air == {}
    assert len(collected.notes) == 1
    assert "retained" in collected.notes[0]
    scene.say("a", "19.4")
    assert scene.air() == Reading(19.4, 10_000.0)


def test_retained_with_time_counts_from_it() -> None:
    """A retained value with its own time is as old as it says."""
    scene = Scene({"topic": "a", "pointer": "/c", "time": "/t"})
    scene.say("a", '{"c": 19.4, "t": "2026-01-31T06:20:00Z"}', retained=True)
    assert scene.air() == Reading(19.4, pytest.approx(9400.0))


def test_old_by_its_own_time() -> None:
    """A value that says it is two hours old is Missing, with its age."""
    scene = Scene({"topic": "a", "pointer": "/c", "time": "/t"})
    scene.say("a", '{"c": 19.4, "t": "2026-01-31T04:30:00Z"}')
    said = scene.air()
    assert isinstance(said, Missing)
    assert "120 min old" in said.why


def test_future_is_refused() -> None:
    """A value from the future is Missing."""
    scene = Scene({"topic": "a", "pointer": "/c", "time": "/t"})
    scene.say("a", '{"c": 19.4, "t": "2026-01-31T06:33:00Z"}')
    said = scene.air()
    assert isinstance(said, Missing)
    assert "future" in said.why


def test_an_older_reading_does_not_replace_a_newer() -> None:
    """A reading that arrives late, measured before the one we have, is left out with a note."""
    scene = Scene({"topic": "a", "pointer": "/c", "time": "/t"})
    scene.say("a", '{"c": 19.4, "t": "2026-01-31T06:29:00Z"}')
    assert isinstance(scene.air(), Reading)
    scene.say("a", '{"c": 12.0, "t": "2026-01-31T06:20:00Z"}', retained=True)
    collected = scene.sensing.collect()
    assert collected.air == {}
    assert "older" in collected.notes[0]


def test_median_of_three() -> None:
    """One sensor in the sun does not move the median of three."""
    scene = Scene({"topic": "a"}, {"topic": "b"}, {"topic": "c"})
    for topic, value in (("a", "19"), ("b", "20"), ("c", "31")):
        scene.say(topic, value)
    assert scene.air() == Reading(20.0, 10_000.0)


def test_two_give_their_mean() -> None:
    """The median of two is their mean; its moment is the newest's."""
    scene = Scene({"topic": "a"}, {"topic": "b"})
    scene.say("a", "19")
    scene.steady += 60
    scene.say("b", "20")
    assert scene.air() == Reading(19.5, 10_060.0)


def test_a_stale_sensor_drops_out_by_name() -> None:
    """A sensor past its own stale_after is left out of the median, and named once."""
    scene = Scene({"topic": "a", "stale_after": "20 min"}, {"topic": "b"})
    scene.say("a", "10")
    scene.say("b", "20")
    scene.steady += 1201
    scene.say("b", "20.2")
    collected = scene.sensing.collect()
    assert collected.air["study"] == Reading(20.2, 11_201.0)
    assert "a: left out of the median: its last reading is 20 min old" in collected.notes[0]
    scene.steady += 120
    scene.say("b", "20.2")
    assert scene.sensing.collect().notes == ()


def test_stale_after_is_an_hour_when_not_said() -> None:
    """Left out, a sensor that is used to pausing counts for an hour."""
    scene = Scene({"topic": "a"}, {"topic": "b"})
    scene.steady -= 1200
    scene.say("a", "10")
    scene.steady += 1200
    scene.say("a", "10")
    scene.steady += 3599
    scene.say("b", "20")
    assert scene.air() == Reading(15.0, 13_599.0)
    scene.steady += 2
    scene.say("b", "20")
    assert scene.air() == Reading(20.0, 13_601.0)


def test_one_that_is_silent_for_longer_than_it_is_used_to_leaves_it_to_the_others() -> None:
    """A dead sensor's last word would hold the median down for an hour; alone it counts until it is stale."""
    scene = Scene({"topic": "a"}, {"topic": "b"})
    for _ in range(5):
        scene.say("a", "15")
        scene.steady += 300
    scene.say("b", "20")
    assert scene.air() == Reading(17.5, scene.steady)
    scene.steady += 600  # three pauses of five minutes
    scene.say("b", "20")
    assert scene.air() == Reading(17.5, scene.steady)
    scene.steady += 1
    scene.say("b", "20")
    assert scene.air() == Reading(20.0, scene.steady)
    scene.say("a", "16")
    assert scene.air() == Reading(18.0, scene.steady)
    scene.steady += 3000
    scene.say("b", "unplugged")
    assert scene.air() == Reading(16.0, scene.steady - 3000.0)


def test_a_bad_sensor_drops_out_and_all_bad_is_missing() -> None:
    """One liar leaves the other; two liars leave Missing with both named."""
    scene = Scene({"topic": "a"}, {"topic": "b"})
    scene.say("a", "85")
    scene.say("b", "20")
    assert scene.air() == Reading(20.0, 10_000.0)
    scene.say("b", "nan")
    said = scene.air()
    assert isinstance(said, Missing)
    assert "a: 85 °C" in said.why
    assert "b: " in said.why


def test_away_and_back() -> None:
    """A sensor that says it is away is Missing; back, its last reading counts with its own age."""
    scene = Scene({"topic": "a", "present": {"topic": "a/there"}})
    scene.say("a", "19.4")
    scene.say("a/there", "offline")
    said = scene.air()
    assert isinstance(said, Missing)
    assert said.why == "the sensor says that it is away"
    scene.steady += 60
    scene.say("a/there", "online", retained=True)
    assert scene.air() == Reading(19.4, 10_000.0)


def test_retained_absence_counts() -> None:
    """A retained "away" counts, since presence is told by a retained last will."""
    scene = Scene({"topic": "a", "present": {"topic": "a/there", "no": "lost"}})
    scene.say("a/there", "lost", retained=True)
    assert isinstance(scene.air(), Missing)


def test_battery_is_the_weakest() -> None:
    """The weakest battery of a room is told, and a low one is noted once."""
    scene = Scene(
        {"topic": "a", "battery": {"topic": "a/b"}},
        {"topic": "c", "battery": {"topic": "c/b"}},
        outdoor={"topic": "o", "battery": {"topic": "o/b"}},
    )
    scene.say("a/b", "80")
    scene.say("c/b", "14")
    scene.say("o/b", "50")
    collected = scene.sensing.collect()
    assert collected.battery_percent == {"study": 14.0, "outdoor": 50.0}
    assert [note for note in collected.notes if "under 15 %" in note]
    assert scene.sensing.collect().notes == ()


def test_broken_battery_is_noted() -> None:
    """A battery of 400 % is noted and no value."""
    scene = Scene({"topic": "a", "battery": {"topic": "a/b"}})
    scene.say("a/b", "400")
    collected = scene.sensing.collect()
    assert collected.battery_percent == {}
    assert "outside 0 to 100" in collected.notes[0]


def test_several_pointers_on_one_topic() -> None:
    """Air, humidity and battery may come in one payload."""
    scene = Scene(
        {"topic": "a", "pointer": "/c", "battery": {"topic": "a", "pointer": "/b"}},
        humidity={"topic": "a", "pointer": "/h"},
    )
    scene.say("a", '{"c": 19.4, "h": 48, "b": 77}')
    collected = scene.sensing.collect()
    assert collected.air["study"] == Reading(19.4, 10_000.0)
    assert collected.humidity_percent == {"study": 48.0}
    assert collected.battery_percent == {"study": 77.0}
    assert scene.sensing.collect().humidity_percent == {}


def test_outdoor() -> None:
    """The outdoor sensor is told apart and may be far colder than a room."""
    scene = Scene({"topic": "a"}, outdoor={"topic": "o"})
    scene.say("o", "-41")
    assert scene.sensing.collect().outdoor == Reading(-41.0, 10_000.0)
    assert scene.sensing.collect().outdoor is None
