"""install.sh and uninstall.sh under a folder: what they write and keep, with nothing of this machine touched."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.deploy.machine import make_wheels

pytestmark = [pytest.mark.night, pytest.mark.timeout(900)]
CLONE = Path(__file__).parents[2]


def script(name: str, *options: str) -> str:
    """What a script of deploy/ says; it must succeed."""
    command = ["bash", str(CLONE / "deploy" / name), *options]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Wheels of the clone and of what it needs."""
    folder = tmp_path_factory.mktemp("built") / "wheels"
    make_wheels(CLONE, folder)
    return folder


def test_everything_lies_under_the_prefix_and_stays_until_purged(tmp_path: Path, wheels: Path) -> None:
    """Two installs, a change of the listener and an uninstall keep the owner's files; a purge takes them."""
    options = ("--prefix", str(tmp_path), "--wheels", str(wheels))
    script("install.sh", *options)
    house = tmp_path / "etc/thermostatd/house.toml"
    house.write_text(house.read_text() + "# mine\n")
    broker = tmp_path / "etc/mosquitto/conf.d/thermostatd.conf"
    assert "\nlistener 1883 127.0.0.1\n" in broker.read_text()
    script("install.sh", *options, "--lan")
    assert "\nlistener 1883\n" in broker.read_text()
    script("install.sh", *options)
    assert "\nlistener 1883\n" in broker.read_text(), "a later run keeps what was chosen"
    assert house.read_text().endswith("# mine\n")
    assert len(list((tmp_path / "opt/thermostatd/versions").iterdir())) == 2
    assert (tmp_path / "opt/thermostatd/guides/safety.md").exists()
    assert (tmp_path / "etc/thermostatd/secrets/broker-password").stat().st_mode & 0o007 == 0
    script("uninstall.sh", "--prefix", str(tmp_path))
    assert house.exists()
    assert not (tmp_path / "opt/thermostatd").exists()
    script("uninstall.sh", "--prefix", str(tmp_path), "--purge")
    assert not house.exists()


def test_a_broker_with_settings_of_its_own_is_left_alone(tmp_path: Path, wheels: Path) -> None:
    """Where the owner's broker already says who may connect, no second word is added."""
    theirs = tmp_path / "etc/mosquitto/conf.d/mine.conf"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("listener 1883\npassword_file /etc/mosquitto/mine\n")
    said = script("install.sh", "--prefix", str(tmp_path), "--wheels", str(wheels))
    assert "settings of its own" in said
    assert not (theirs.parent / "thermostatd.conf").exists()
