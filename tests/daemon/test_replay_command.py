"""`thermostatd replay`: what it prints, and how it ends."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.daemon.recorded_day import house, live
from thermostatd.cli import main
from thermostatd.core.asking import Ask
from thermostatd.daemon.setting import SettingError, changed

DAY = "2026-01-13"


@pytest.fixture(scope="module")
def state(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The state folder of two invented hours."""
    folder = tmp_path_factory.mktemp("state")
    live(folder, house(), hours=2, tick_seconds=60.0, asked={20: Ask("attic", 21.5, who="Ana")})
    return folder


def said(*words: str) -> Result:
    """The command's output and exit code."""
    return CliRunner().invoke(main, ["replay", *words])


def test_the_same_setting_ends_well(state: Path) -> None:
    """Exit code 0, and the sentence that every order came out the very same."""
    told = said("today", "--state", str(state))
    assert told.exit_code == 0, told.output
    assert "120 steps" in told.output
    assert "the very same" in told.output


def test_another_setting_is_compared(state: Path) -> None:
    """Hours and switchings then and otherwise, each difference with both reasons, and what this does not show."""
    told = said(DAY, "--state", str(state), "--set", "attic.usual=[{at = \"00:00\", celsius = 12}]",
                "--set", "study.control=hysteresis")  # fmt: skip
    assert told.exit_code == 0, told.output
    assert "otherwise" in told.output
    assert "not how warm the rooms would have been" in told.output


def test_a_heater_that_is_not_compared_is_named(state: Path, tmp_path: Path) -> None:
    """A house file with other names: said so, and nothing is called the same of nothing."""
    other = tmp_path / "other.toml"
    other.write_text(
        '[house]\nname = "Other"\n[[room]]\nname = "den"\nsensor = { topic = "s" }\n'
        'usual = [{ at = "07:00", celsius = 20 }]\n[[room.heater]]\nname = "column"\nwatts = 600\n'
        'may_run = ["awake"]\nplug = { kind = "simulated" }\n'
    )
    told = said(DAY, "--state", str(state), "--house", str(other))
    assert told.exit_code == 0, told.output
    assert "the other setting has no “attic/column”, “study/column”" in told.output
    assert "nothing is recorded of “den/column”" in told.output
    assert "the same all day" not in told.output


def test_json_has_every_difference(state: Path) -> None:
    """For a machine: the same, with ISO times."""
    told = said(DAY, "--state", str(state), "--json", "--set", "study.control=hysteresis")
    plain = json.loads(told.output)
    assert plain["steps"] == 120
    assert plain["heaters"].keys() == {"study/column", "attic/column"}
    for one in plain["differences"]:
        assert one["begins"] <= one["ends"]


def test_orders_that_differ_end_with_one(state: Path, tmp_path: Path) -> None:
    """A record whose proof does not fit is told, and the exit code says so."""
    copy = tmp_path / "thermostatd.db"
    with (
        closing(sqlite3.connect(state / "thermostatd.db")) as source,
        closing(sqlite3.connect(copy)) as target,
    ):
        source.backup(target)
        from thermostatd.daemon.recorded import packed, unpacked

        mark, part, body = target.execute(
            "SELECT mark, part, body FROM input ORDER BY part LIMIT 1"
        ).fetchone()
        told = unpacked(body) | {"proof": "0" * 32}
        target.execute("UPDATE input SET body = ? WHERE mark = ? AND part = ?", (packed(told), mark, part))
        target.commit()
    found = said(DAY, "--state", str(tmp_path))
    assert found.exit_code == 1
    assert "came out otherwise" in found.output


def test_a_damaged_record_is_told(state: Path, tmp_path: Path) -> None:
    """Rubbish where a part should be is one sentence."""
    copy = tmp_path / "thermostatd.db"
    with (
        closing(sqlite3.connect(state / "thermostatd.db")) as source,
        closing(sqlite3.connect(copy)) as target,
    ):
        source.backup(target)
        target.execute("UPDATE input SET body = x'00'")
        target.commit()
    found = said(DAY, "--state", str(tmp_path))
    assert found.exit_code == 1
    assert "cannot be read" in found.output


@pytest.mark.parametrize(
    ("words", "code", "why"),
    [
        (("soon",), 2, "2026-01-12"),
        (("2020-01-01",), 1, DAY),
        (("today", "--set", "study"), 1, "study.differential=0.2"),
        (("today", "--set", "cellar.control=hysteresis"), 1, "there are: house, study"),
        (("today", "--set", "study.colour=red"), 1, "differential"),
        (("today", "--set", "study.differential=90"), 1, "3"),
    ],
)
def test_what_is_wrong_is_told_with_what_there_is(
    state: Path, words: tuple[str, ...], code: int, why: str
) -> None:
    """A wrong day, place, key or value names the right ones."""
    told = said(*words, "--state", str(state))
    assert told.exit_code == code
    assert why in told.output


def test_a_setting_changes_one_value() -> None:
    """As an owner writes it, with or without quotes."""
    was = house()
    now = changed(was, ("study.cycle=30 min", "study/column.watts=800", "house.frost_celsius=5"))
    assert now.rooms[0].cycle == 1800.0
    assert now.rooms[0].heaters[0].watts == 800.0
    assert now.house.frost_celsius == 5.0
    assert now.rooms[1] == was.rooms[1]
    with pytest.raises(SettingError):
        changed(was, ("=",))


def test_a_value_that_is_none_is_told_as_in_the_house_file() -> None:
    """By the names of the house file, with what to write instead."""
    with pytest.raises(SettingError) as caught:
        changed(house(), ("study.differential=0,2",))
    assert str(caught.value) == (
        'room[study].differential: "0,2" is no number. Write it without quotes and with a point: 0.2'
    )
