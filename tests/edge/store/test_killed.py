"""kill -9 the moment a request was acknowledged: nothing acknowledged is lost, and memory returns with it."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.edge.store.conftest import NOON, Steady, request, stamp
from thermostatd.edge.store import EventRow, Store


def _acknowledge(folder: Path, first: int, pipe: int) -> None:
    """In the child: commit one request after another, with batches in between; say each number once it is safe."""
    clock = Steady()
    store = Store.open(folder, clock)
    for number in range(first, first + 10_000):
        clock.seconds += 40.0
        store.add_events([EventRow(NOON, "tick", "study", f"event {number}")])
        store.save_memory({"last": number - 1}, stamp(clock.seconds))
        store.commit_request(request(number), {"last": number}, stamp(clock.seconds))
        os.write(pipe, f"{number}\n".encode())
    os._exit(3)


def _killed_after(folder: Path, first: int, acknowledged: int) -> int:
    """Run a child, kill it at once after so many acknowledgements; the last number it acknowledged."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reading)
            _acknowledge(folder, first, writing)
        finally:
            os._exit(4)
    os.close(writing)
    with os.fdopen(reading, "rb") as said:
        for _ in range(acknowledged):
            said.readline()
        os.kill(child, signal.SIGKILL)
        rest = said.read().split(b"\n")
    os.waitpid(child, 0)
    return max([first + acknowledged - 1, *(int(word) for word in rest if word)])


def _kill_and_look(folder: Path, times: int, opened: Callable[[Path], Store]) -> None:
    first, dice = 0, random.Random(7)
    for _ in range(times):
        last = _killed_after(folder, first, dice.randint(1, 6))
        store = opened(folder)
        kept = {int(row.steady) for row in store.requests(1_000_000)}
        newest = max(kept)
        assert newest in (last, last + 1)  # one may have been stored and not yet said
        assert kept == set(range(newest + 1))
        memory = store.load_memory()
        assert memory is not None
        assert memory[0] == {"last": newest}
        assert store.writing
        assert store.notes == ()
        store.close()
        first = newest + 1
    with closing(sqlite3.connect(folder / "thermostatd.db")) as other:
        assert other.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


def test_nothing_acknowledged_is_lost(tmp_path: Path, opened: Callable[[Path], Store]) -> None:
    """Fifteen kills lose no acknowledged request, and memory is always that of the last one."""
    _kill_and_look(tmp_path, 15, opened)


@pytest.mark.night
def test_nothing_acknowledged_is_lost_in_a_hundred(tmp_path: Path, opened: Callable[[Path], Store]) -> None:
    """A hundred kills lose no acknowledged request."""
    _kill_and_look(tmp_path, 100, opened)


def test_requests_are_synchronous_full_and_batches_normal(
    tmp_path: Path, opened: Callable[[Path], Store]
) -> None:
    """A request is committed with FULL, which in WAL mode syncs each commit (sqlite.org/pragma.html)."""
    store = opened(tmp_path)
    said: list[str] = []
    store._writer.later(lambda desk: desk.book._connection.set_trace_callback(said.append)).result()
    store.commit_request(request(1), {}, stamp())
    assert _strength_of(said, "INSERT INTO request") == "PRAGMA synchronous = FULL"
    store.add_events([EventRow(NOON, "tick", "study", "x")])
    assert store.flush()
    assert _strength_of(said, "INSERT INTO event") == "PRAGMA synchronous = NORMAL"


def _strength_of(said: list[str], what: str) -> str:
    place = next(index for index, words in enumerate(said) if what in words)
    strength = next(words for words in reversed(said[:place]) if "synchronous" in words)
    assert "COMMIT" not in said[said.index(strength) : place]
    return strength
