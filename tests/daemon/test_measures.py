"""/metrics by the reference parser, /health, and `why` now and then, on the running daemon."""

from __future__ import annotations

import asyncio
import json
import re
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from tests.daemon.home import Home, house_text
from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.cli import main
from thermostatd.core.reasons import DEMANDS, INTERLOCKS, PACES, TURNS
from thermostatd.daemon.house_door import HouseDoor
from thermostatd.daemon.kept_house import keep_house
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.service import Service
from thermostatd.daemon.telling_why import WOULD_CHANGE
from thermostatd.daemon.telling_why_then import ThenError, moment_of
from thermostatd.edge.house_file import load_house
from thermostatd.edge.store import EventRow, MinuteRow, Store

# Base units of OpenMetrics 1.0 (section "Units and base units"); a share is a ratio.
BASE_UNITS = {"", "celsius", "seconds", "joules", "ratio", "volts", "amperes", "bytes", "meters", "grams"}


def test_metrics_health_and_why(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """The parser takes all metrics, their units are base units, energy grows; `why` tells now and then the same."""
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on)
    time.sleep(2.2)
    text = home.call("GET", "/metrics")[1]
    families = {family.name: family for family in text_string_to_metric_families(text)}
    for name, family in families.items():
        assert family.unit in BASE_UNITS
        assert family.unit == "" or name.endswith(f"_{family.unit}")
        assert family.documentation
    values = {sample.name: sample.value for family in families.values() for sample in family.samples}
    assert values["thermostatd_air_celsius"] == 18.0
    assert values["thermostatd_heater_on"] == 1.0
    assert values["thermostatd_relay_operations_total"] == 1.0
    assert 300 < values["thermostatd_heater_energy_joules_total"] < 600 * 60
    assert values["thermostatd_decision_age_seconds"] < 3.0
    guide = (Path(__file__).parents[2] / "web/help/measures.md").read_text()
    assert set(families) == set(re.findall(r"^\| `(thermostatd_\w+?)(?:_total)?` \|", guide, re.M))
    now = home.say("why", "study").stdout
    page = home.call("GET", "/api/house")[1]["rooms"][0]["why"]
    assert now.splitlines()[0] == f"study: {page}"
    assert "OFF would need: the air reaching the target, or a lower target" in now
    at = datetime.now(UTC)
    broker.kill()
    assert wait_until(lambda: home.health() and not home.health()["ok"], 10)
    assert not home.health()["broker"]
    assert home.terminate()[0] == 0  # what was kept is on the disk
    then = home.say("why", "study", "--at", at.isoformat())
    assert then.returncode == 0, then.stderr
    assert then.stdout.splitlines()[1] == f"study: {page}"
    assert "study/column: ordered ON (warming); the plug shows ON, 541 W" in then.stdout
    machine = json.loads(home.say("why", "study", "--at", at.isoformat(), "--json").stdout)
    assert (machine["from"], machine["why"]) == ("inputs", page)
    assert machine["heaters"]["study/column"]["watts"] == 541.0
    missing = home.say("why", "attic", "--at", at.isoformat())
    assert missing.returncode == 1
    assert "The rooms were: study" in missing.stderr


def test_every_reason_says_what_would_change_it() -> None:
    """No code that can hold a heater on or off lacks its mend."""
    assert {*DEMANDS, *PACES, *TURNS, *INTERLOCKS} == set(WOULD_CHANGE)


def test_a_failed_tick_is_no_health(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Health ends with the first tick that fails, and comes back with the next that decides."""
    file = tmp_path / "house.toml"
    file.write_text(house_text(free_port(), 8420))
    parts = Parts(load_house(file), tmp_path / "state")
    try:

        async def try_it() -> list[object]:
            service = Service(parts)
            door = HouseDoor(service)
            told = [door.health()["deciding"]]
            service._tick()
            told.append(door.health()["deciding"])
            step = service.regulator.step
            monkeypatch.setattr(service.regulator, "step", lambda *_: 1 / 0)
            service._tick()
            told.append(door.health()["deciding"])
            monkeypatch.setattr(service.regulator, "step", step)
            service._tick()
            return [*told, door.health()["deciding"], door.health()["ok"]]

        assert asyncio.run(try_it()) == [False, True, False, True, False]  # not ok: there is no broker
    finally:
        parts.close()


def test_why_from_an_older_record(tmp_path: Path) -> None:
    """Where inputs are no longer kept, minutes and events tell what they hold; of nothing, nothing is told."""
    at = datetime(2025, 12, 1, 7, 45, tzinfo=UTC)
    store = Store.open(tmp_path, lambda: 0.0)
    store.add_minutes([MinuteRow(int(at.timestamp() // 60), "study", 18.4, 20.0, 3.0, "usual")])
    store.add_events(
        [EventRow(at - timedelta(minutes=9), "switched-on", "study/column", "ON: Warming, invented.")]
    )
    store.close()

    def say(*words: str):
        return CliRunner().invoke(main, ["why", *words, "--state", str(tmp_path)])

    told = say("study", "--at", at.isoformat()).output
    for word in ("18.40 °C", "20.0 °C (usual)", "07:36  study/column: ON: Warming", "14 days"):
        assert word in told
    machine = json.loads(say("study", "--at", at.isoformat(), "--json").output)
    assert (machine["from"], machine["air_celsius"], machine["events"][0]["code"]) == (
        "minutes",
        18.4,
        "switched-on",
    )
    keep_house(tmp_path, tmp_path / "house.toml", house_text(1883, 8420).replace("UTC", "Europe/Oslo"))
    by_its_zone = say("study", "--at", "2025-12-01 08:45").output
    assert "18.40 °C" in by_its_zone, "before the first part is written, the zone is that of the house file"
    assert "At 2025-12-01 08:45" in by_its_zone
    assert say("study", "--at", "2024-12-01 07:45").exit_code == 1
    assert "The record begins at 2025-12-01" in say("study", "--at", "2024-12-01 07:45").output
    assert "write a time" in say("study", "--at", "yesterday").output
    assert "lies ahead" in say("study", "--at", "2999-01-01 00:00").output


def test_moments() -> None:
    """A time of day is today's, by the house's clock; one with its own offset is itself."""
    from zoneinfo import ZoneInfo

    oslo, now = ZoneInfo("Europe/Oslo"), datetime(2026, 1, 14, 10, tzinfo=UTC)
    assert moment_of("07:45", oslo, now) == datetime(2026, 1, 14, 6, 45, tzinfo=UTC)
    assert moment_of("2026-01-12 07:45", oslo, now) == datetime(2026, 1, 12, 6, 45, tzinfo=UTC)
    assert moment_of("2026-01-12T07:45+00:00", oslo, now) == datetime(2026, 1, 12, 7, 45, tzinfo=UTC)
    with pytest.raises(ThenError, match="ahead"):
        moment_of("2026-01-15 07:45", oslo, now)
