"""Small parts by themselves: runs joined from minutes, asks read from payloads, results as payloads."""

from __future__ import annotations

import asyncio
import itertools
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from tests.daemon.home import house_text
from thermostatd.core.asking import NEXT_STEP, Ask, Refused
from thermostatd.core.regulator import Regulator
from thermostatd.core.values import Moment, Observation, PlugReport, Reading
from thermostatd.daemon.asks import WHO, BrokerAsks, ask_from
from thermostatd.daemon.house_door import joined_runs
from thermostatd.daemon.telling import Telling, payloads
from thermostatd.edge.house_file import load_house
from thermostatd.edge.store import HeaterMinuteRow


def _row(minute: int, on: int, span: int = 1) -> HeaterMinuteRow:
    return HeaterMinuteRow(minute, "study/column", on, on * 500, 0, span)


def test_runs() -> None:
    """Minutes with heat that touch are one run; a minute without heat parts them."""
    assert joined_runs([]) == []
    assert joined_runs([_row(10, 60), _row(11, 60), _row(12, 30)]) == [(600.0, 750.0)]
    assert joined_runs([_row(10, 60), _row(11, 0), _row(13, 60)]) == [(600.0, 660.0), (780.0, 840.0)]
    assert joined_runs([_row(15, 900, 15), _row(30, 60)]) == [(900.0, 1860.0)]


@given(some.lists(some.tuples(some.integers(0, 200), some.integers(0, 60)), unique_by=lambda pair: pair[0]))
def test_runs_ordered(pairs: list[tuple[int, int]]) -> None:
    """Runs are in order, none ends before it begins, and none overlaps the next."""
    runs = joined_runs([_row(minute, on) for minute, on in sorted(pairs)])
    assert all(start < end for start, end in runs)
    assert all(one[1] <= two[0] for one, two in itertools.pairwise(runs))


_JSON = some.recursive(
    some.none() | some.booleans() | some.floats() | some.integers() | some.text(max_size=8),
    lambda inner: (
        some.lists(inner, max_size=3)
        | some.dictionaries(some.sampled_from(["celsius", "until", "who", "x"]), inner, max_size=4)
    ),
    max_leaves=8,
)


@given(some.binary(max_size=60) | _JSON.map(lambda value: json.dumps(value).encode()))
def test_ask_from_never_breaks(payload: bytes) -> None:
    """Whatever stands in a payload, reading it gives an ask from the broker or a ValueError."""
    try:
        ask = ask_from("study", payload)
    except ValueError:
        return
    assert isinstance(ask, Ask)
    assert ask.who == WHO


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"[" * 100_000,
        b"[" * 1000,
        b'{"celsius": 21, "celsius": 22}',
        b'{"celsius": 21, "for": 3}',
        b"21",
        b'{"celsius": 21, "until": "2026-01-12T22:00"}',
        b'{"celsius": 21, "until": 5}',
        b"\xff\xfe",
        b'{"celsius": ' + b"9" * 5000 + b"}",
    ],
)
def test_ask_refused(payload: bytes) -> None:
    """A payload that is not whole, known and clear is refused with a sentence."""
    with pytest.raises(ValueError, match=r"\w{3}"):
        ask_from("study", payload)


@given(some.binary(max_size=40) | _JSON.map(lambda value: json.dumps({"celsius": value}).encode()))
def test_ask_decided(payload: bytes) -> None:
    """Whatever an ask holds, the one door answers it; it never raises."""
    try:
        ask = ask_from("study", payload)
    except ValueError:
        return
    answer = _REGULATOR.do(Moment(datetime(2026, 1, 12, 12, tzinfo=UTC), 10.0), ask)
    assert answer.sentence


def test_throttled(tmp_path: Path) -> None:
    """Asks from the broker are taken six at once and one each two seconds, as from one device."""
    table = tmp_path / "house.toml"
    table.write_text(house_text(1883, 8420, broker_more="asks = true"))
    seconds, taken, answers = [0.0], [], []

    async def do(ask: Ask) -> Refused:
        taken.append(ask)
        return Refused("out-of-limits", "No.")

    asks = BrokerAsks(
        load_house(table), do, lambda *words: bool(answers.append(words)) or True, lambda: seconds[0]
    )
    for second in (0, 0, 0, 0, 0, 0, 0, 0, 1, 2):
        seconds[0] = float(second)
        asyncio.run(asks.take("thermostatd/ask/study", b'{"celsius": 21}', False))
    assert len(taken) == 7
    assert len(answers) == 10
    assert "too many" in answers[7][1]
    assert {topic for topic, _, _ in answers} == {"thermostatd/answer/study"}


def _house(folder) -> object:
    file = folder / "house.toml"
    file.write_text(house_text(1883, 8420))
    return load_house(file)


@pytest.fixture(autouse=True, scope="module")
def _regulator(tmp_path_factory: pytest.TempPathFactory) -> None:
    global _REGULATOR
    _REGULATOR = Regulator(_house(tmp_path_factory.mktemp("house")))


_REGULATOR: Regulator


def test_payloads() -> None:
    """A result's payloads have the published keys, times with an offset, and plain JSON values."""
    regulator = _REGULATOR
    moment = Moment(datetime(2026, 1, 12, 12, 0, 10, tzinfo=UTC), 20.0)
    seen = Observation(
        air={"study": Reading(18.004, at=15.0)}, outdoor=None, plugs={"study/column": PlugReport(on=False)}
    )
    regulator.do(moment, Ask("study", 21.0, NEXT_STEP, "Ana"))
    result = regulator.step(moment, seen)
    told = payloads(moment, result)
    room = told["thermostatd/room/study"]
    assert list(room) == ["air", "at", "target", "until", "who", "code", "why"]
    assert (room["air"], room["at"], room["who"]) == (18.0, "2026-01-12T12:00:05+00:00", "Ana")
    heater = told["thermostatd/heater/study/column"]
    assert list(heater) == ["on", "watts", "lapses", "code", "why"]
    json.dumps(told, allow_nan=False)


def test_telling() -> None:
    """What did not change is told once, what the broker did not take is told again, a reconnect tells all anew."""
    moment = Moment(datetime(2026, 1, 12, 12, 0, 20, tzinfo=UTC), 30.0)
    result = _REGULATOR.step(moment, Observation(air={"study": Reading(18.0)}, outdoor=None, plugs={}))
    sent: list[tuple[str, str]] = []
    up = False

    def publish(topic: str, payload: str, retain: bool) -> bool:
        assert retain
        sent.append((topic, payload))
        return up

    telling = Telling(publish)
    telling.found_retained("thermostatd/trouble/old", b"{}")
    telling.tell(moment, result)
    first, up = len(sent), True
    telling.tell(moment, result)
    assert len(sent) == 2 * first
    assert ("thermostatd/trouble/old", "") in sent[first:]
    telling.tell(moment, result)
    assert len(sent) == 2 * first
    telling.forget()
    telling.tell(moment, result)
    assert len(sent) == 3 * first - 1  # the old trouble stays emptied


def test_every_request_can_be_recorded() -> None:
    """Each kind of request has its row in the record, with what it is about: none fails after it was decided."""
    from dataclasses import fields
    from datetime import UTC, datetime
    from typing import get_args

    from thermostatd.core import asking
    from thermostatd.core.values import Moment
    from thermostatd.daemon.recording import request_row

    values = {"room": "study", "spot": "study", "heater": "study/column", "what": "study", "trouble": "study x"}
    kinds = []
    for kind in get_args(asking.Request):
        request = kind(**{one.name: values.get(one.name) for one in fields(kind)})
        row = request_row(Moment(datetime(2026, 1, 12, tzinfo=UTC), 0.0), request, asking.Accepted("done"))
        kinds.append(row.kind)
        named = {one.name for one in fields(kind)} & set(values)
        assert row.about.startswith("study") == bool(named), row
    assert len(set(kinds)) == len(kinds) == 11
