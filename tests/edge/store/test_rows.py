"""What is written is read again; minutes thin without losing energy; batches are batched."""

from __future__ import annotations

import sqlite3
import tempfile
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from tests.edge.store.conftest import NOON, Steady, request, stamp
from thermostatd.edge.store import EventRow, HeaterMinuteRow, MinuteRow, RequestRow, Store, StoreError

Opened = Callable[[Path], Store]
MINUTE = int(NOON.timestamp()) // 60
LATER = NOON + timedelta(days=400)

celsius = some.none() | some.integers(-6000, 6000).map(lambda hundredths: hundredths / 100)
words = some.text(
    some.characters(blacklist_categories=["Cs"], blacklist_characters="\x00"), min_size=1, max_size=20
)
rows = some.builds(MinuteRow, some.integers(0, 2_000_000_000), words, celsius, celsius, celsius, words)


def took(store: Store, heater: str, since: datetime, until: datetime) -> float:
    """A heater's watt-hours between two times."""
    return store.energies([(since, until)]).get(heater, [0.0])[0]


@settings(max_examples=40)
@given(some.lists(rows, max_size=20, unique_by=lambda row: (row.minute, row.room)))
def test_trace_round_trip(written: list[MinuteRow]) -> None:
    """Any minutes come back as they were, in time order, each from its own room."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store.open(Path(folder), Steady())
        try:
            store.add_minutes(written)
            since, until = datetime(1970, 1, 1, tzinfo=UTC), datetime(9999, 1, 1, tzinfo=UTC)
            for room in {row.room for row in written}:
                expected = sorted((row for row in written if row.room == room), key=lambda row: row.minute)
                assert store.trace(room, since, until) == expected
        finally:
            store.close()


def test_what_is_no_number_is_missing(tmp_path: Path, opened: Opened) -> None:
    """NaN and infinity are stored as missing, never as a temperature."""
    store = opened(tmp_path)
    store.add_minutes([MinuteRow(MINUTE, "study", float("nan"), 20.0, float("inf"), "usual")])
    assert store.trace("study", NOON, LATER) == [MinuteRow(MINUTE, "study", None, 20.0, None, "usual")]


def test_requests_and_events_round_trip(tmp_path: Path, opened: Opened) -> None:
    """Requests and events come back whole, newest first, by room where asked."""
    store = opened(tmp_path)
    hostile = "'; DROP TABLE request; --\x00\ud800"
    other = RequestRow(NOON, 9.0, "all-off", "house", who=hostile)
    store.commit_request(request(1), {}, stamp())
    store.commit_request(other, {}, stamp())
    assert store.requests(5, "study") == [request(1)]
    assert [row.about for row in store.requests(5)] == ["house", "study"]
    assert store.requests(1)[0].who == "'; DROP TABLE request; --?"
    store.add_events([EventRow(NOON + timedelta(seconds=n), "tick", f"room {n % 2}", "x") for n in range(6)])
    assert [row.wall.second for row in store.events(NOON + timedelta(seconds=2), 3)] == [5, 4, 3]
    assert [row.wall.second for row in store.events(NOON, 9, about="room 1")] == [5, 3, 1]


def test_times_need_a_zone(tmp_path: Path, opened: Opened) -> None:
    """A time without zone is refused at the door, in the caller's thread."""
    with pytest.raises(ValueError, match="time zone"):
        opened(tmp_path).add_events([EventRow(datetime(2026, 1, 1), "tick", "study", "x")])  # noqa: DTZ001


def _count(folder: Path, table: str) -> int:
    with closing(sqlite3.connect(f"file:{folder}/thermostatd.db?mode=ro", uri=True)) as other:
        return int(other.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def test_batches_wait_sixty_steady_seconds(tmp_path: Path, opened: Opened, steady: Steady) -> None:
    """Rows and memory reach the disk with the first addition after sixty steady seconds, and not before."""
    store = opened(tmp_path)
    for seconds, expected in ((0.0, 0), (59.0, 0), (61.0, 3)):
        steady.seconds = 1000.0 + seconds
        store.add_events([EventRow(NOON, "tick", "study", "x")])
        store.save_memory({"at": seconds}, stamp())
        store.load_memory()  # the queue is in order: whatever was due is done
        assert _count(tmp_path, "event") == expected
    store.save_memory({"at": "close"}, stamp())
    store.close()
    again = opened(tmp_path).load_memory()
    assert again == ({"at": "close"}, stamp())


def test_a_later_memory_is_never_overwritten_by_an_earlier(tmp_path: Path, opened: Opened) -> None:
    """Memory saved before a request does not come back over the request's."""
    store = opened(tmp_path)
    store.save_memory({"n": 1}, stamp())
    store.commit_request(request(1), {"n": 2}, stamp())
    store.flush()
    memory = store.load_memory()
    assert memory is not None
    assert memory[0] == {"n": 2}


def test_a_request_that_waited_does_not_overwrite_a_later_memory(tmp_path: Path, opened: Opened) -> None:
    """Memory saved after a request was handed over stays, though the request is written after it."""
    store = opened(tmp_path)
    go_on = threading.Event()
    store._writer.later(lambda desk: go_on.wait(5.0))
    flushed = store.soon.flush()
    committed = store.soon.commit_request(request(1), {"n": 1}, stamp())
    store.save_memory({"n": 2}, stamp())
    go_on.set()
    assert flushed.result(5.0)
    committed.result(5.0)
    assert store.load_memory() == ({"n": 2}, stamp())
    assert store.requests(5) == [request(1)]


def test_memory_is_packed_at_the_call(tmp_path: Path, opened: Opened) -> None:
    """A memory changed after the call is stored as it was at the call; one that is not JSON-able is refused."""
    store = opened(tmp_path)
    memory: dict[str, object] = {"n": 1}
    store.save_memory(memory, stamp())
    memory["n"] = 2
    store.close()
    kept = opened(tmp_path).load_memory()
    assert kept is not None
    assert kept[0] == {"n": 1}
    with pytest.raises(ValueError, match="JSON"):
        store.save_memory({"n": float("nan")}, stamp())


def _a_day(store: Store, days: int) -> None:
    for minute in range(MINUTE, MINUTE + days * 1440):
        air = None if minute % 97 == 0 else 19.0 + minute % 60 / 100
        store.add_minutes(
            [
                MinuteRow(minute, "study", air, 20.0, -2.0, "usual" if minute % 15 < 9 else "Ana"),
                HeaterMinuteRow(minute, "study/column", minute % 61, minute % 61 * 541, minute % 2),
            ]
        )


def test_energy_of_an_hour(tmp_path: Path, opened: Opened) -> None:
    """541 W held for an hour are 541 Wh (derived: energy is power times time)."""
    store = opened(tmp_path)
    store.add_minutes([HeaterMinuteRow(MINUTE + n, "study/column", 60, 541 * 60, 0) for n in range(120)])
    assert took(store, "study/column", NOON, NOON + timedelta(hours=1)) == pytest.approx(541.0)
    assert took(store, "elsewhere", NOON, LATER) == 0.0


def test_energy_of_many_pieces_is_that_of_each(tmp_path: Path, opened: Opened) -> None:
    """All heaters' energy, piece by piece, is what each question alone gives; thinned or not."""
    store = opened(tmp_path)
    for key, watts in (("study/column", 541), ("hall/panel", 900)):
        store.add_minutes([HeaterMinuteRow(MINUTE + n, key, 60, watts * (n % 60), 0) for n in range(240)])
    edges = [NOON + timedelta(minutes=15 * n) for n in (0, 1, 5, 6, 16)]
    pieces = list(pairwise(edges))
    for until in (None, NOON + timedelta(hours=1)):
        if until:
            store.thin(until)
        found = store.energies(pieces)
        assert set(found) == {"study/column", "hall/panel"}
        for key, sums in found.items():
            assert sums == pytest.approx([took(store, key, *piece) for piece in pieces])
            assert sum(sums) > 0
    assert store.energies([]) == {}


def test_a_minute_told_twice_loses_no_energy(tmp_path: Path, opened: Opened) -> None:
    """When the wall was set back and a minute comes again, its energy adds up; thinned or not."""
    store = opened(tmp_path)
    row = HeaterMinuteRow(MINUTE, "study/column", 30, 18_000, 1)
    for _ in range(2):
        store.add_minutes([row])
        store.flush()
    assert took(store, "study/column", NOON, LATER) == pytest.approx(10.0)
    store.thin(NOON + timedelta(hours=1))
    store.add_minutes([row])
    store.thin(NOON + timedelta(hours=1))
    assert store.heater_trace("study/column", NOON, LATER) == [
        HeaterMinuteRow(MINUTE, "study/column", 90, 54_000, 3, 15)
    ]


def test_thinning_keeps_energy_and_means(tmp_path: Path, opened: Opened) -> None:
    """Thinned minutes keep every watt-second and switching, the mean air of what was known, and the last wish."""
    store = opened(tmp_path)
    _a_day(store, 2)
    wide = (NOON - timedelta(days=1), LATER)
    before = store.heater_trace("study/column", *wide)
    airs = [row.air for row in store.trace("study", *wide)[:15] if row.air is not None]
    cut = NOON + timedelta(days=1, minutes=7)
    assert store.thin(cut) == 2 * 1440
    assert store.thin(cut) == 0
    after = store.heater_trace("study/column", *wide)
    for total in ("on_seconds", "watt_seconds", "switches"):
        assert sum(getattr(row, total) for row in after) == sum(getattr(row, total) for row in before)
    thinned = store.trace("study", *wide)
    assert len(thinned) == 96 + 1440
    assert thinned[0].span_minutes == 15
    assert thinned[0].air == pytest.approx(sum(airs) / len(airs), abs=0.0051)
    assert thinned[0].whose == "Ana"
    assert thinned[96].span_minutes == 1


def test_size_of_a_room_and_year(tmp_path: Path, opened: Opened) -> None:
    """A room with a heater stays under 6 MB a year: sixty days of minutes, then quarter hours."""
    store = opened(tmp_path)
    path = tmp_path / "thermostatd.db"
    store.close()
    empty = path.stat().st_size
    store = opened(tmp_path)
    _a_day(store, 7)
    store.close()
    per_minute = (path.stat().st_size - empty) / (7 * 1440)
    year = per_minute * (60 * 1440 + 305 * 96)
    assert year < 6e6, f"{year / 1e6:.1f} MB a year, {per_minute:.0f} bytes a minute"


def test_prune(tmp_path: Path, opened: Opened) -> None:
    """Events and requests from before a time go, later ones stay."""
    store = opened(tmp_path)
    store.add_events([EventRow(NOON + timedelta(days=n), "tick", "study", "x") for n in range(4)])
    store.commit_request(request(0), {}, stamp())
    assert len(store.events(NOON, 9)) == 4
    assert store.prune(NOON + timedelta(days=2)) == 3
    assert len(store.events(NOON, 9)) == 2


def test_backup_is_a_whole_database(tmp_path: Path, opened: Opened) -> None:
    """A backup opens as a store with the same rows; where it cannot be made, the old one stays."""
    store = opened(tmp_path / "state")
    store.commit_request(request(1), {"n": 1}, stamp())
    (tmp_path / "copy").mkdir()
    target = tmp_path / "copy" / "thermostatd.db"
    store.backup(target)
    with pytest.raises(StoreError, match="no backup"):
        store.backup(tmp_path / "nowhere" / "x.db")
    copy = opened(tmp_path / "copy")
    assert copy.requests(5) == [request(1)]
    assert copy.load_memory() == ({"n": 1}, stamp())


def test_many_threads(tmp_path: Path, opened: Opened) -> None:
    """Calls from many threads at once are all answered, by the one writer."""
    store = opened(tmp_path)

    def ask(first: int) -> None:
        for number in range(first, first + 20):
            store.commit_request(request(number), {"n": number}, stamp())
            store.add_minutes([MinuteRow(MINUTE + number, "study", 19.0, 20.0, None, "usual")])

    threads = [threading.Thread(target=ask, args=(100 * n,)) for n in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(store.requests(1000)) == len(store.trace("study", NOON, LATER)) == 100


def test_after_close(tmp_path: Path, opened: Opened) -> None:
    """A closed store answers with a clear error and never hangs."""
    store = opened(tmp_path)
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.requests(1)
