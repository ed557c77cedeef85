"""As a new owner: a bare Python, a broker and the wheel; from nothing to a first warm room, by the commands alone.

The devices are a simulated house that speaks MQTT at life's own pace. `-s` prints how long each step took.
"""

# ruff: noqa: E501
from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.parts.mosquitto import Mosquitto, free_port, wait_until

ROOT = Path(__file__).resolve().parents[2]
WARM_WITHIN_SECONDS = 45 * 60.0


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built by pip from the clone as it is committed or not."""
    folder = tmp_path_factory.mktemp("wheel")
    words = ["-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(folder), str(ROOT)]
    subprocess.run([sys.executable, *words], check=True, timeout=120)
    return next(folder.glob("*.whl"))


class Owner:
    """A person at a terminal, in an empty folder, with a home of their own."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.program = folder, folder / "venv" / "bin" / "thermostatd"
        self.took: list[tuple[str, float]] = []
        self.env = {"PATH": os.environ["PATH"], "HOME": str(folder), "LANG": "C.UTF-8"}

    def does(self, step: str, *words: str, typed: str | None = None, seconds: float = 600.0) -> str:
        """One command to its end, timed."""
        began = time.monotonic()
        done = subprocess.run(
            words,
            cwd=self.folder,
            env=self.env,
            input=typed,
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )
        self.took.append((step, time.monotonic() - began))
        assert done.returncode == 0, f"{step}: {done.stdout}{done.stderr}"
        return done.stdout


@pytest.fixture
def owner(tmp_path: Path) -> Owner:
    return Owner(tmp_path)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[Mosquitto]:
    """A broker with two names, and the devices on it."""
    users = {"thermostatd": "invented word", "devices": "another word"}
    with Mosquitto(tmp_path / "broker", users=users) as broker:
        command = [sys.executable, "-m", "tests.deploy.devices", str(broker.port), "devices", "another word"]
        devices = subprocess.Popen(command, cwd=ROOT)
        yield broker
        devices.terminate()
        devices.wait(10)


@pytest.mark.night
@pytest.mark.timeout(4800)
def test_from_nothing_to_a_warm_room(owner: Owner, wheel: Path, house: Mosquitto) -> None:
    """Install, listen and blink, check, run, join, ask, and be warm: nothing but the commands of the guide."""
    python = shutil.which("python3", path="/usr/bin") or sys.executable
    began = time.monotonic()
    owner.does("venv", python, "-m", "venv", "venv")
    owner.does("pip install", "venv/bin/pip", "install", "-q", str(wheel))
    (owner.folder / "word").write_text("invented word\n")
    (owner.folder / "word").chmod(0o600)
    broker = ["--port", str(house.port), "--user", "thermostatd", "--password-file", "word"]
    said = owner.does(
        "listen and blink", str(owner.program), "listen", *broker, "--minutes", "2.5", "--blink", "--timer", "true {seconds}",
        "--out", "house.toml", typed="y\n1\n",
    )  # fmt: skip
    assert "it went on and off as told" in said, said
    text = (owner.folder / "house.toml").read_text()
    assert tomllib.loads(text)["room"][0]["heater"][0]["plug"]["timer"] == {"payload": "true {seconds}"}
    port = free_port()
    text = re.sub(r"watts = \d+.*", "watts = 900", text).replace(
        'asleep = { from = "23:00", to = "06:30" }', ""
    )
    text = re.sub(r"asleep = .*", "", text)
    assert text.count("\nlisten = ") == 1  # the proposal has a page already, on a port that may be taken here
    text = re.sub(r"\nlisten = .*", f'\nlisten = "127.0.0.1:{port}"\nopen = true', text)
    (owner.folder / "house.toml").write_text(text)
    assert "no faults" in owner.does("check", str(owner.program), "check", "house.toml")
    log = open(owner.folder / "log", "wb")  # noqa: SIM115
    daemon = subprocess.Popen(
        [str(owner.program), "run", "house.toml"], cwd=owner.folder, env=owner.env, stderr=log
    )
    started = time.monotonic()
    try:
        page = f"http://127.0.0.1:{port}"
        assert wait_until(lambda: _answers(f"{page}/health"), 60, 0.5), (owner.folder / "log").read_text()
        owner.took.append(("run until healthy", time.monotonic() - started))
        body = b'{"room": "study", "celsius": 19.2, "until": "no-end"}'
        urllib.request.urlopen(
            urllib.request.Request(f"{page}/api/ask", body, {"Content-Type": "application/json"}), timeout=10
        ).read()
        asked = time.monotonic()
        warm = wait_until(lambda: _air(owner) >= 19.0, WARM_WITHIN_SECONDS, 5.0)
        owner.took.append(("asked until warm", time.monotonic() - asked))
        why = owner.does("why", str(owner.program), "why", "study")
        assert warm, why
    finally:
        daemon.terminate()
        daemon.wait(30)
        log.close()
        owner.took.append(("all", time.monotonic() - began))
        print("\n" + "\n".join(f"{step:20} {seconds:8.1f} s" for step, seconds in owner.took))
    assert "Traceback" not in (owner.folder / "log").read_text()


def _answers(address: str) -> bool:
    try:
        return bool(urllib.request.urlopen(address, timeout=2).status == 200)
    except OSError:
        return False


def _air(owner: Owner) -> float:
    done = subprocess.run(
        [str(owner.program), "why", "study"], env=owner.env, capture_output=True, text=True, check=False
    )
    found = re.search(r"^air +([\d.]+) °C", done.stdout, re.M)
    return float(found[1]) if found else 0.0


def test_the_wheel_is_whole(wheel: Path, tmp_path: Path) -> None:
    """Every web and config file, the manual page and each migration are inside; it runs without the clone."""
    shutil.unpack_archive(wheel, tmp_path / "in", "zip")
    for folder in ("web", "config"):
        for file in (ROOT / folder).rglob("*"):
            if file.is_file() and not _passing(file):
                there = tmp_path / "in" / "thermostatd" / "_shared" / folder / file.relative_to(ROOT / folder)
                assert there.is_file(), f"{file} is missing in the wheel"
    names = {path.name for path in (tmp_path / "in").rglob("*")}
    assert {"thermostatd.1", "LICENSE", "py.typed", "entry_points.txt"} <= names
    assert len(list((tmp_path / "in").rglob("*.sql"))) == len(list(ROOT.glob("thermostatd/**/*.sql")))
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path / 'in')!r}); from thermostatd.cli import main; main()"
    )
    example = tmp_path / "in/thermostatd/_shared/config/one-room.toml"
    done = subprocess.run(
        [sys.executable, "-c", code, "check", str(example)],
        cwd="/",
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "no faults" in done.stdout


def test_the_sdist_is_whole(wheel: Path, tmp_path: Path) -> None:
    """A wheel made from the sdist alone holds the same files as the one made from the clone."""
    from hatchling.builders.sdist import SdistBuilder

    made = next(SdistBuilder(str(ROOT)).build(directory=str(tmp_path / "sdist")))
    words = ["-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(tmp_path), made]
    subprocess.run([sys.executable, *words], check=True, timeout=120, cwd="/")
    shutil.unpack_archive(wheel, tmp_path / "clone", "zip")
    shutil.unpack_archive(next(tmp_path.glob("*.whl")), tmp_path / "from", "zip")

    def held(folder: Path) -> set[str]:
        return {
            str(file.relative_to(folder))
            for file in folder.rglob("*")
            if file.is_file() and not _passing(file)
        }

    assert held(tmp_path / "from") == held(tmp_path / "clone")


def _passing(file: Path) -> bool:
    """What git ignores or an editor left."""
    return file.suffix in (".pyc", ".new", ".orig") or file.name.startswith(".") or file.name.endswith("~")
