"""A report of a large house: the same sums as row by row, and within a bound of time and memory."""

from __future__ import annotations

import resource
import subprocess
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from tests.daemon.home import COMMAND
from thermostatd.core.house import House
from thermostatd.daemon.report.comfort import room_sums
from thermostatd.daemon.report.energy import heater_sums
from thermostatd.daemon.report.period import period
from thermostatd.daemon.report.whole import make_report
from thermostatd.edge.store import HeaterMinuteRow, MinuteRow, Store
from thermostatd.edge.store.reader import open_record

ENDS = datetime(2026, 1, 31, 23, tzinfo=UTC)  # midnight in Oslo
WINTER_SECONDS, MONTH_SECONDS = 12.0, 6.0
"""Of the processor; measured 4.0 and 2.5 s for twenty rooms, start of the program included."""


def _house(rooms: int) -> str:
    """Invented rooms with a heater each, under an invented tariff."""
    text = (
        '[house]\ntimezone = "Europe/Oslo"\noutdoor = { topic = "yard" }\n[tariff]\nper_kwh = 1.5\n'
        'prices = [{ days = "daily", from = "17:10", to = "20:00", per_kwh = 3.0 }]\n'
    )
    for room in range(rooms):
        text += (
            f'[[room]]\nname = "room {room}"\nsensor = {{ topic = "r{room}" }}\n[[room.heater]]\nname = "panel"\n'
            f'watts = 600\nplug = {{ kind = "mqtt", tell = "p{room}", timer = {{ payload = "true {{seconds}}" }} }}\n'
        )
    return text


def _lived(folder: Path, rooms: int, days: int, keep_days: int) -> None:
    """A record of invented days up to ENDS, of which the older are thinned to quarter hours."""
    store, last = Store.open(folder, lambda: 0.0), int(ENDS.timestamp() // 60)
    for begins in range(last - days * 1440, last, 1440):
        rows: list[MinuteRow | HeaterMinuteRow] = []
        for minute in range(begins, begins + 1440):
            target = 20.0 if 420 <= minute % 1440 < 1320 else 16.0
            for room in range(rooms):
                air = None if (minute + room) % 97 == 0 else target - 1.2 + minute % 190 / 100
                rows.append(MinuteRow(minute, f"room {room}", air, target, -3.0 + minute % 7, "usual"))
                if (minute // 10 + room) % 3 == 0:
                    rows.append(
                        HeaterMinuteRow(minute, f"room {room}/panel", 60, 36_000, int(minute % 10 == 0))
                    )
        store.add_minutes(rows)
        store.flush()
    store.thin(ENDS - timedelta(days=keep_days))
    store.close()


def test_columns_say_what_rows_say(tmp_path: Path) -> None:
    """The one reading of minutes and quarter hours sums up to what each room's and heater's own rows give."""
    import tomllib

    _lived(tmp_path, 2, 4, 2)
    house = House.model_validate(tomllib.loads(_house(2)))
    when = period("week", ZoneInfo("Europe/Oslo"), ENDS, date(2026, 1, 27), date(2026, 1, 31))
    with open_record(tmp_path) as record:
        report = make_report(house, record, when)
        for room in report.rooms:
            alone = room_sums(room.name, record.rooms(room.name, when.since, when.until))
            assert room == alone
            assert room.arrivals
        for heater in report.heaters:
            rows = record.heaters(heater.key, when.since, when.until)
            dear = lambda minute: 3.0 if 1030 <= (minute + 60) % 1440 < 1200 else 1.5  # noqa: E731
            alone = heater_sums(heater.key, rows, dear)
            assert (heater.kwh, heater.cost) == pytest.approx((alone.kwh, alone.cost))
            assert heater.clicks == alone.clicks > 0
        assert sum(piece.kwh for piece in report.pieces) == pytest.approx(report.kwh)


@pytest.mark.night
@pytest.mark.timeout(1200)
def test_a_winter_of_twenty_rooms_is_quick(tmp_path: Path) -> None:
    """A month and a winter of twenty rooms take seconds of the processor, whatever else the machine does."""
    _lived(tmp_path / "state", 20, 120, 60)
    file = tmp_path / "house.toml"
    file.write_text(_house(20))
    for first, most in (("2026-01-02", MONTH_SECONDS), ("2025-10-04", WINTER_SECONDS)):
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        words = [
            "report",
            str(file),
            "--from",
            first,
            "--to",
            "2026-01-31",
            "--state",
            str(tmp_path / "state"),
            "--json",
        ]
        done = subprocess.run([*COMMAND, *words], capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        waited, megabytes = time.monotonic() - began, after.ru_maxrss // 1024
        print(f"report from {first}: {took:.1f} s of processor, {waited:.1f} s, {megabytes} MB")
        assert done.returncode == 0, done.stderr
        assert took < most
