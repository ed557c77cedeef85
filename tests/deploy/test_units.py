"""The units as systemd itself reads them: nothing it does not know, little that an intruder could reach."""

from __future__ import annotations

import configparser
import re
import shutil
import subprocess
from pathlib import Path

import pytest

DEPLOY = Path(__file__).parents[2] / "deploy"
SERVICES = ("thermostatd.service", "thermostatd-off.service")
UNITS = (*SERVICES, "thermostatd-again.timer")
PROGRAM = "/opt/thermostatd/current/bin/thermostatd"


class OneOrMore(dict):  # type: ignore[type-arg]
    """A unit's section: a key that comes again adds a line."""

    def __setitem__(self, key: str, value: object) -> None:
        if isinstance(value, list) and key in self:
            self[key].extend(value)
        else:
            super().__setitem__(key, value)


def unit(name: str) -> configparser.RawConfigParser:
    """A unit file as sections of keys."""
    parser = configparser.RawConfigParser(dict_type=OneOrMore, strict=False, delimiters=("=",))
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read(DEPLOY / name)
    return parser


@pytest.fixture
def runnable(tmp_path: Path) -> Path:
    """The units, with a program that exists on this machine: systemd also looks for it."""
    for name in UNITS:
        (tmp_path / name).write_text((DEPLOY / name).read_text().replace(PROGRAM, "/usr/bin/env"))
    return tmp_path


def test_systemd_knows_every_key(runnable: Path) -> None:
    """`systemd-analyze verify` prints nothing: it exits 0 on a key that it does not know."""
    paths = [str(runnable / name) for name in UNITS]
    done = subprocess.run(["systemd-analyze", "verify", *paths], capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_a_misspelt_key_would_be_seen(runnable: Path) -> None:
    """The check above can fail."""
    path = runnable / UNITS[0]
    path.write_text(path.read_text().replace("WatchdogSec=", "WatchdogSecs="))
    done = subprocess.run(["systemd-analyze", "verify", str(path)], capture_output=True, text=True)
    assert "WatchdogSecs" in done.stdout + done.stderr


@pytest.mark.parametrize("name", SERVICES)
def test_little_is_exposed(name: str) -> None:
    """Each service scores at most 1.5 of 10 in systemd's own measure, and still reaches the network."""
    done = subprocess.run(
        ["systemd-analyze", "security", "--no-pager", "--offline=true", str(DEPLOY / name)],
        capture_output=True, text=True,
    )  # fmt: skip
    score = re.search(r"exposure level for \S+: ([\d.]+)", done.stdout)
    assert score, done.stdout + done.stderr
    assert float(score[1]) <= 1.5
    assert unit(name)["Service"]["RestrictAddressFamilies"] == "AF_INET AF_INET6 AF_UNIX"


def test_the_service_is_watched_and_always_comes_back() -> None:
    """The daemon notifies, is watched for 60 s and always comes back; a death tells every plug OFF."""
    service = unit("thermostatd.service")["Service"]
    assert service["Type"] == "notify"
    assert int(service["WatchdogSec"]) == 60
    assert (service["Restart"], service["RestartSec"]) == ("always", "5")
    assert f"{PROGRAM} all-off " in service["ExecStopPost"]
    assert service["StateDirectory"] == "thermostatd"
    assert service["User"] == "thermostatd"


def test_giving_up_tells_off_and_tries_again() -> None:
    """When systemd gives up, the failure unit runs, and a timer tries the daemon anew."""
    table = unit("thermostatd.service")["Unit"]
    assert set(table["OnFailure"].split()) == {"thermostatd-off.service", "thermostatd-again.timer"}
    assert f"{PROGRAM} all-off " in unit("thermostatd-off.service")["Service"]["ExecStart"]
    assert unit("thermostatd-off.service")["Service"]["StateDirectory"] == "thermostatd", "the last good house is there"
    assert unit("thermostatd-again.timer")["Timer"]["Unit"] == "thermostatd.service"


def test_the_broker_is_awaited_but_not_required() -> None:
    """A broker that is late, or not on this machine, does not keep the daemon from starting."""
    table = unit("thermostatd.service")["Unit"]
    assert {"network-online.target", "mosquitto.service"} <= set(table["After"].split())
    assert "Requires" not in table
    assert "BindsTo" not in table


def test_systemd_is_here() -> None:
    """These checks are systemd's; they do not pass for want of it."""
    assert shutil.which("systemd-analyze")
