"""What is heard on a broker in a while, kept small whatever is sent.

Rules: at most 2 000 topics, 48 values of one payload six levels deep, 240 samples and 6 different words of
each value; a flood of topics heard once makes room for what is heard again; what is thrown away is counted.
"""

from __future__ import annotations

import json
import math
import threading
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from thermostatd.edge.broker_payload import LARGEST_PAYLOAD_BYTES

MOST_TOPICS = 2000
MOST_VALUES = 48
MOST_DEPTH = 6
MOST_SAMPLES = 240
MOST_WORDS = 6
MOST_WORD_LETTERS = 60
MOST_KEPT_WHOLE = 400  # payloads by which devices introduce themselves
LONGEST_TOPIC = 200
OWN = "thermostatd/"
_ROOM_LOOKS = 64


@dataclass
class Trail:
    """One value of one topic over time. Seconds are steady; `pointer` is a JSON Pointer (RFC 6901)."""

    topic: str
    pointer: str
    count: int = 0
    live: int = 0
    """How many were not retained."""
    no_number: int = 0
    numbers: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=MOST_SAMPLES))
    """Live numbers: (second, value)."""
    kept_number: float | None = None
    """The retained number, which may be days old."""
    words: dict[str, int] = field(default_factory=dict)
    told: deque[tuple[float, str]] = field(default_factory=lambda: deque(maxlen=MOST_SAMPLES))
    """Live words: (second, word)."""
    too_many_words: bool = False

    def add(self, at: float, value: object, retained: bool) -> None:
        """One value as it came out of a payload."""
        self.count += 1
        self.live += not retained
        word = _word(value)
        number = _number(value)
        self.no_number += number is None
        if number is not None:
            if retained:
                self.kept_number = number
            else:
                self.numbers.append((at, number))
        if word in self.words or len(self.words) < MOST_WORDS:
            self.words[word] = self.words.get(word, 0) + 1
        else:
            self.too_many_words = True
        if not retained:
            self.told.append((at, word))

    @property
    def name(self) -> str:
        """Topic and pointer, as people read them."""
        return f"{self.topic} {self.pointer}" if self.pointer else self.topic


class Ear:
    """Filled by the network's thread, read by another."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._topics: dict[str, dict[str, Trail]] = {}
        self._whole: dict[str, str] = {}
        self._heard: dict[str, int] = {}
        self.messages = 0
        self.too_large = 0
        """Payloads over 16 KiB: not read."""
        self.crowded_out = 0
        """Messages not kept since too many topics were heard."""

    def take(self, topic: str, payload: bytes, retained: bool, at: float) -> None:
        """One message. Never raises for what is in it."""
        if (
            topic.startswith(OWN)
            or not 0 < len(topic) <= LONGEST_TOPIC
            or any(sign in topic for sign in "\0+#")
        ):
            return
        with self._lock:
            self.messages += 1
            if not self._room_for(topic):
                self.crowded_out += 1
                return
            self._heard[topic] = self._heard.get(topic, 0) + 1
            if len(payload) > LARGEST_PAYLOAD_BYTES:
                self.too_large += 1
                return
            self._keep(topic, payload, retained, at)

    def trails(self) -> list[Trail]:
        """Every value heard, in the order of its topic."""
        with self._lock:
            return [trail for topic in sorted(self._topics) for trail in self._topics[topic].values()]

    def whole(self) -> dict[str, str]:
        """The last payload of each topic on which devices introduce themselves (`…/$…`)."""
        with self._lock:
            return dict(self._whole)

    @property
    def topics(self) -> int:
        """How many topics are kept."""
        return len(self._heard)

    def _room_for(self, topic: str) -> bool:
        """Whether the topic may be kept; one that was heard once gives way."""
        if topic in self._heard or len(self._heard) < MOST_TOPICS:
            return True
        for place, (old, times) in enumerate(self._heard.items()):
            if times <= 1 and old not in self._whole:
                del self._heard[old]
                self._topics.pop(old, None)
                return True
            if place > _ROOM_LOOKS:
                break
        return False

    def _keep(self, topic: str, payload: bytes, retained: bool, at: float) -> None:
        try:
            text = payload.decode().strip()
        except UnicodeDecodeError:
            return
        if "/$" in topic:
            if topic in self._whole or len(self._whole) < MOST_KEPT_WHOLE:
                self._whole[topic] = text
            return
        if not text:
            return
        trails = self._topics.setdefault(topic, {})
        for pointer, value in leaves(text):
            if pointer in trails or len(trails) < MOST_VALUES:
                trails.setdefault(pointer, Trail(topic, pointer)).add(at, value, retained)


def leaves(text: str) -> Iterator[tuple[str, object]]:
    """The plain values of a payload with their pointers, shallow ones first; a text that is no JSON is itself."""
    try:
        whole: object = json.loads(text)
    except (ValueError, RecursionError):
        yield "", text
        return
    waiting: deque[tuple[str, object, int]] = deque([("", whole, 0)])
    given = 0
    while waiting and given < MOST_VALUES:
        pointer, value, depth = waiting.popleft()
        if not isinstance(value, (dict, list)):
            given += 1
            yield pointer, text if pointer == "" and not isinstance(value, str) else value
        elif depth < MOST_DEPTH:
            waiting.extend(_inside(pointer, value, depth))


def _inside(
    pointer: str, value: dict[str, object] | list[object], depth: int
) -> list[tuple[str, object, int]]:
    pairs = value.items() if isinstance(value, dict) else enumerate(value)
    inside: list[tuple[str, object, int]] = []
    for key, inner in pairs:
        step = str(key).replace("~", "~0").replace("/", "~1")
        if len(pointer) + len(step) < LONGEST_TOPIC and "\0" not in step and len(inside) < MOST_VALUES:
            inside.append((f"{pointer}/{step}", inner, depth + 1))
    return inside


def _word(value: object) -> str:
    """The word as the plugs' own reader would have it: JSON true is `true`."""
    text = value if isinstance(value, str) else json.dumps(value)
    return text.strip()[:MOST_WORD_LETTERS]


def _number(value: object) -> float | None:
    if isinstance(value, bool):
        return None
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None
