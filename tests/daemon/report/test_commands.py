"""`report` and `export` on a real store, as an owner types them, and beside a running daemon."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pyarrow.parquet
import pytest
from click.testing import CliRunner

from tests.daemon.home import Home, house_text
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.cli import main
from thermostatd.edge.store import EventRow, HeaterMinuteRow, MinuteRow, Store
from thermostatd.edge.store.rows import Stamp

DAY = datetime(2026, 1, 12, tzinfo=UTC)
TARIFF = (
    '[tariff]\ncurrency = "kr"\nper_kwh = 1.0\nprices = [{ from = "16:00", to = "22:00", per_kwh = 3.0 }]\n'
)


@pytest.fixture
def kept(tmp_path: Path) -> list[str]:
    """A recorded day, invented: 600 W through the day, 10 K over outdoors, one opening of the cut-out."""
    file = tmp_path / "house.toml"
    file.write_text(house_text(1883, 8420, more=TARIFF))
    store = Store.open(tmp_path / "state", lambda: 0.0)
    first = int(DAY.timestamp() // 60)
    store.add_minutes([MinuteRow(first + n, "study", 20.0, 20.0, 10.0, "usual") for n in range(1440)])
    store.add_minutes([HeaterMinuteRow(first + n, "study/column", 60, 36_000, n == 0) for n in range(1440)])
    store.add_events([EventRow(DAY + timedelta(hours=3), "cut-out-opened", "study/column", "=1+1, invented")])
    store.save_memory(
        {"heaters": {"study/column": {"operations": 25_000}}}, Stamp("b", 0.0, 0.0, DAY.isoformat())
    )
    store.close()
    return [str(file), "--state", str(tmp_path / "state"), "--from", "2026-01-12", "--to", "2026-01-12"]


def _told(command: str, words: list[str], *more: str, code: int = 0) -> str:
    answer = CliRunner().invoke(main, [command, words[0], *more, *words[1:]])
    assert answer.exit_code == code, answer.output
    return answer.output


def test_report_for_machines(kept: list[str]) -> None:
    """600 W for a day at 10 K: 14.4 kWh, 21.60 kr, 10 K·d, 60 W/K, an eighth of the relay worn (derived)."""
    told = json.loads(_told("report", kept, "--json"))
    assert told["energy_kwh"] == pytest.approx(14.4)
    assert (told["cost"], told["currency"], told["cost_taken_evenly"]) == (21.6, "kr", 21.6)
    assert told["indoor_over_outdoor_kelvin_days"] == pytest.approx(10.0)
    assert told["loss_watts_per_kelvin"] == pytest.approx(60.0)
    assert told["degree_days_base_17_kelvin_days"] == pytest.approx(7.0)
    heater = told["heaters"]["study/column"]
    assert (heater["cut_out_trips"], heater["clicks"], heater["worn_share"]) == (1, 1, 0.125)
    assert told["rooms"]["study"]["below_minutes"] == 0
    assert len(told["over_time"]) == 24


def test_report_for_people(kept: list[str]) -> None:
    """The same figures in a table."""
    text = _told("report", kept)
    for word in ("14.40 kWh, 21.60 kr", "loses 60 W/K", "study/column", "12.5 %", "20.0", "00:00",
                 "1.500 kr a kWh; taken evenly over each day it would have been 1.500"):  # fmt: skip
        assert word in text


def test_report_as_a_file(kept: list[str], tmp_path: Path) -> None:
    """One HTML file that needs nothing else, with pictures; never over another file."""
    out = tmp_path / "day.html"
    _told("report", kept, "--html", str(out))
    page = out.read_text()
    assert page.count("<svg") == 2 + ("polyline" in page)
    assert page.count('class="bar"') == 24
    for fetched in ("http:", "https:", "<script", "<link", "url(", "@import", "src="):
        assert fetched not in page
    assert "is there already" in _told("report", kept, "--html", str(out), code=1)


def test_names_are_escaped(tmp_path: Path) -> None:
    """A name that looks like markup is shown as it is."""
    file = tmp_path / "house.toml"
    file.write_text(house_text(1883, 8420).replace("Tern House", "<script>alert(1)</script>"))
    Store.open(tmp_path / "state", lambda: 0.0).close()
    out = tmp_path / "page.html"
    _told("report", [str(file), "--state", str(tmp_path / "state")], "--html", str(out))
    assert "<script>" not in out.read_text()
    assert "&lt;script&gt;" in out.read_text()


def test_export_csv(kept: list[str], tmp_path: Path) -> None:
    """Units in the names of the columns, one line a minute, and to the screen where asked."""
    out = tmp_path / "rooms.csv"
    assert "1440 rows" in _told("export", kept, "rooms", "--csv", str(out))
    rows = list(csv.DictReader(io.StringIO(out.read_text())))
    assert len(rows) == 1440
    assert rows[0]["begins_utc"] == "2026-01-12T00:00:00Z"
    assert (float(rows[0]["air_celsius"]), rows[0]["whose"]) == (20.0, "usual")
    heaters = list(csv.DictReader(io.StringIO(_told("export", kept, "heaters", "--csv", "-"))))
    assert sum(int(row["energy_watt_seconds"]) for row in heaters) == 14.4 * 3_600_000
    assert "is there already" in _told("export", kept, "rooms", "--csv", str(out), code=1)


def test_export_parquet(kept: list[str], tmp_path: Path) -> None:
    """The same in Parquet, read back by the library itself."""
    out = tmp_path / "rooms.parquet"
    _told("export", kept, "rooms", "--parquet", str(out))
    table = pyarrow.parquet.read_table(out)
    assert table.num_rows == 1440
    assert str(table.schema.field("begins_utc").type) == "timestamp[ms, tz=UTC]"
    assert table.column("outdoor_celsius")[0].as_py() == 10.0


def test_without_the_library(kept: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without pyarrow the sentence says what to install, and no file is left."""
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    out = tmp_path / "rooms.parquet"
    assert "thermostatd[parquet]" in _told("export", kept, "rooms", "--parquet", str(out), code=1)
    assert not out.exists()


def test_no_record_and_wrong_words(tmp_path: Path, kept: list[str]) -> None:
    """No record, an impossible period, no file named: a clear sentence, code 1 or 2."""
    assert "no record lies in" in _told("report", [kept[0], "--state", str(tmp_path / "none")], code=1)
    assert "exchange" in _told("report", [kept[0], "--from", "2026-02-01", "--to", "2026-01-01"], code=2)
    assert "give --csv FILE" in _told("export", kept, "rooms", code=2)


@pytest.mark.night
def test_beside_a_running_daemon(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """The record can be read while the daemon writes it, and the daemon goes on."""
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on)
    assert home.say("report", str(home.file), "day").returncode == 0
    assert home.say("export", str(home.file), "events", "--csv", "-").returncode == 0
    assert home.health()["ok"]


def test_days_of_which_little_is_known_count_as_little(kept: list[str], tmp_path: Path) -> None:
    """The record goes on for six hours of the next day, 10 K under the base: 7 + 10 / 4 K·d, not 17 (derived)."""
    store = Store.open(tmp_path / "state", lambda: 0.0)
    first = int((DAY + timedelta(days=1)).timestamp() // 60)
    store.add_minutes([MinuteRow(first + n, "study", 20.0, 20.0, 7.0, "usual") for n in range(360)])
    store.close()
    told = json.loads(_told("report", [*kept[:-1], "2026-01-13"], "--json"))
    assert told["degree_days_base_17_kelvin_days"] == pytest.approx(7.0 + 10.0 / 4.0)


def test_a_days_page_and_its_text_tell_one_loss(kept: list[str], tmp_path: Path) -> None:
    """Hours draw no line; what the day loses stands there all the same, as in the text."""
    _told("report", kept, "--html", str(tmp_path / "day.html"))
    assert "60 W/K over this time" in (tmp_path / "day.html").read_text()
    assert "loses 60 W/K" in _told("report", kept)
