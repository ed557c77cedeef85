"""The record of a renamed room goes by its new name, all of it, together with the memory."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from tests.edge.store.conftest import NOON, Steady, request, stamp
from thermostatd.edge.store import EventRow, HeaterMinuteRow, MinuteRow, Store

MINUTE = int(NOON.timestamp()) // 60
BEFORE, AFTER = NOON - timedelta(days=90), NOON + timedelta(days=1)


def _filled(folder: Path, steady: Steady) -> Store:
    store = Store.open(folder, steady)
    for minute in (MINUTE - 80_000, MINUTE):
        store.add_minutes([MinuteRow(minute, room, 20.0, 21.0, 2.0, "study") for room in ("study", "loft")])
        store.add_minutes([HeaterMinuteRow(minute, f"{room}/a", 60, 36_000, 1) for room in ("study", "loft")])
    store.thin(NOON - timedelta(days=1))
    told = ("study", "study/a", "study/a/warm-plug", "study/reading-missing", "studying", "loft")
    store.add_events([EventRow(NOON, "trouble", about, "") for about in told])
    store.commit_request(request(1), {"of": "study"}, stamp())
    store.add_device("h1", "Bo", "room-guest", room="study")
    return store


def _about(store: Store) -> list[str]:
    return sorted(row.about for row in store.events(BEFORE, 100))


def test_all_that_is_kept(tmp_path: Path, steady: Steady) -> None:
    """Minutes, quarters, energy, events, requests and a guest's room; a name that only begins alike stays."""
    store = _filled(tmp_path, steady)
    store.rename({"study": "office", "study/a": "office/b"}, {"of": "office"}, stamp())
    assert [row.minute for row in store.trace("office", BEFORE, AFTER)] == [(MINUTE - 80_000) // 15 * 15, MINUTE]
    assert {row.whose for row in store.trace("office", BEFORE, AFTER)} == {"study"}  # a person's name
    assert store.trace("study", BEFORE, AFTER) == []
    assert store.energies([(BEFORE, AFTER)]) == {"office/b": [20.0], "loft/a": [20.0]}
    assert _about(store) == sorted(
        ["office", "office/b", "office/b/warm-plug", "office/reading-missing", "studying", "loft"]
    )
    assert [row.about for row in store.requests(5, "office")] == ["office"]
    found = store.device("h1")
    assert found is not None
    assert found.room == "office"
    store.close()
    again = Store.open(tmp_path, steady)
    loaded = again.load_memory()
    assert loaded is not None
    assert loaded[0] == {"of": "office"}
    again.close()


def test_exchanged(tmp_path: Path, steady: Steady) -> None:
    """Each takes the other's name; twice is as before."""
    store = _filled(tmp_path, steady)
    store.add_minutes([MinuteRow(MINUTE + 1, "study", 5.0, 5.0, 5.0, "Ana")])
    before = _about(store)
    exchange = {"study": "loft", "loft": "study"}
    store.rename(exchange, {}, stamp())
    assert [row.air for row in store.trace("loft", NOON, AFTER)] == [20.0, 5.0]
    assert [row.air for row in store.trace("study", NOON, AFTER)] == [20.0]
    store.rename(exchange, {}, stamp())
    assert [row.air for row in store.trace("study", NOON, AFTER)] == [20.0, 5.0]
    assert _about(store) == before
    store.close()
