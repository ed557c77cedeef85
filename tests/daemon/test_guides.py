"""Every command that the guides tell a person to type is typed here, with its places mapped into a folder.

What needs root and a service manager, or minutes, is named with the test that runs it.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.daemon.home import ROOT, Home
from tests.parts.mosquitto import Mosquitto
from tests.parts.plug import StrangersPlug
from thermostatd.cli import main

PAGES = [*sorted((ROOT / "web/help").glob("*.md")), ROOT / "README.md"]
ELSEWHERE = {
    "systemctl": "tests/deploy/test_real_systemd.py", "journalctl": "tests/deploy/test_real_systemd.py",
    "deploy/install.sh": "tests/deploy/test_prefix.py", "deploy/uninstall.sh": "tests/deploy/test_prefix.py",
    "deploy/demo.sh": "deploy/demo.sh", ".ci/check": ".ci/run", "demo": "tests/daemon/test_demo.py",
    "rehearse": "tests/rehearsal", "replay": "tests/daemon/test_replaying.py", "run": "tests/daemon/home.py",
    "pip": "tests/deploy/test_new_owner.py",
}  # fmt: skip
PEOPLES = {"git", "nano", "cd"}
"""What a person does by hand: fetching the source, and writing."""
WORD = re.compile(r"^(?:sudo )?(?:-u thermostatd )?")


def typed() -> list[tuple[str, str]]:
    """Every line of an indented block, and each `thermostatd …` in a sentence that stands there whole."""
    found = []
    for page in PAGES:
        text = re.sub(r"```.*?```", "", page.read_text(), flags=re.S)
        lines = re.findall(r"^(?: {4}| {7})([a-z.(].*)$", text, re.M)
        spans = re.findall(r"`((?:sudo )?thermostatd [a-z-]+ [^`]+)`", text)
        shown = [line for line in lines if not line.startswith(("thermostatd:", "the ")) and " " in line]
        found += [(page.name, line.split("  #")[0].rstrip()) for line in [*shown, *spans]]
    whole = [
        (page, line)
        for page, line in found
        if not re.search(r"\b[A-Z]{4,}\b(?!_)", line.replace("ADDRESS", "x"))
    ]
    return [(page, line) for page, line in whole if _looks_typed(line)]


def _looks_typed(line: str) -> bool:
    first = WORD.sub("", line).lstrip("(").split()[0]
    known = {"thermostatd", "bash", "tar", "install", "ln", "mv", "chown", "chmod", "sh", "umask", "mosquitto_pub",
             "mosquitto_sub", "mosquitto_passwd", "pip", "python3"}  # fmt: skip
    return first in known | PEOPLES or first in ELSEWHERE


LINES = typed()


class Sandbox:
    """A folder that stands for the machine, and a running house in it."""

    def __init__(self, folder: Path, home: Home, broker: Mosquitto) -> None:
        self.folder, self.home, self.broker = folder, home, broker
        secrets = folder / "etc/thermostatd/secrets"
        secrets.mkdir(parents=True)
        (secrets / "broker-password").write_text("invented word\n")
        (secrets / "broker-password").chmod(0o600)
        for name in ("var/lib", "etc/mosquitto", "opt/thermostatd/versions/THE-OLDER-ONE", "root"):
            (folder / name).mkdir(parents=True)
        (folder / "etc/mosquitto/thermostatd.passwords").touch(0o600)

    def placed(self, line: str) -> str:
        """The line with its places in this folder."""
        for place, there in (
            ("/etc/thermostatd/house.toml", str(self.home.file)), ("/var/lib/thermostatd", str(self.home.state)),
            ("house.toml", str(self.home.file)) if "/etc/" not in line else ("\0", ""),
        ):  # fmt: skip
            line = line.replace(place, there)
        line = re.sub(r"(?<![\w/])/(etc|opt|root)/", rf"{self.folder}/\1/", line)
        return (
            line.replace("~/", f"{self.folder}/root/")
            .replace("-C / ", f"-C {self.folder} ")
            .replace("sudo ", "")
        )

    def run(self, line: str) -> subprocess.CompletedProcess[str]:
        """One line, typed."""
        words = self.placed(line)
        words = words.removeprefix("-u thermostatd ")
        if words.startswith("thermostatd "):
            return self._own(shlex.split(words)[1:])
        words = words.replace("var/lib/thermostatd", "var/lib").replace(
            "mosquitto_passwd ", "mosquitto_passwd -b "
        )
        words += " invented" if words.startswith("mosquitto_passwd") else ""
        words = re.sub(r"chown \S+ ", f"chown {_me()} ", words)
        if words.startswith(("mosquitto_pub", "mosquitto_sub")):
            words += f" -p {self.broker.port}" + (" -W 1" if "_sub" in words else "")
        return subprocess.run(
            ["bash", "-c", words], cwd=self.folder, capture_output=True, text=True, timeout=30, check=False
        )

    def _own(self, words: list[str]) -> subprocess.CompletedProcess[str]:
        name = words[0]
        words = [re.sub(r"^(5|10)$", "0.03", word) if name == "listen" else word for word in words]
        if name == "listen":
            words += ["--port", str(self.broker.port)]
        if name in ("why", "report", "export", "join") and "--state" not in words:
            words += ["--state", str(self.home.state)]
        answer = CliRunner().invoke(main, words, input="n\n" * 9)
        assert answer.exception is None or isinstance(answer.exception, SystemExit), answer.exception
        return subprocess.CompletedProcess(words, answer.exit_code, answer.output, "")


def _me() -> str:
    return f"{os.getuid()}:{os.getgid()}"


@pytest.fixture
def sandbox(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, home: Home) -> Sandbox:
    broker.publish("study/air", "18", retain=True)
    return Sandbox(tmp_path / "machine", home, broker)


@pytest.mark.timeout(300)
def test_every_command_of_the_guides(sandbox: Sandbox) -> None:
    """Each ends as the guide says it does; where it does not, all that went wrong are named."""
    wrong = []
    done: set[str] = set()
    for page, line in LINES:
        name = _name(line)
        if name in ELSEWHERE:
            assert (ROOT / ELSEWHERE[name]).exists(), f"{ELSEWHERE[name]} is to run `{name}`"
            continue
        if name in PEOPLES or line in done:
            continue
        done.add(line)
        ended = sandbox.run(line)
        if ended.returncode != 0 and not _expected(line, ended):
            wrong.append(f"{page}: {line}\n   {ended.returncode} {ended.stdout}{ended.stderr}"[:600])
    assert not wrong, "\n".join(wrong)
    assert len(done) > 12


def _name(line: str) -> str:
    words = WORD.sub("", line).lstrip("(").split()
    if words[0] == "thermostatd":
        return words[1]
    return words[1] if words[0] == "bash" else words[0]


def _expected(line: str, ended: subprocess.CompletedProcess[str]) -> bool:
    """What is told rightly in this house of one room: no notices, nothing to listen to, no record of that time."""
    said = ended.stdout + ended.stderr
    return (
        ("notices" in line and "names no webhook" in said)
        or (" listen " in line and "nothing was heard that looks like" in said)
        or ("--at" in line and ("nothing is recorded" in said or "lies ahead" in said))
        or ("mosquitto_sub" in line and ended.returncode == 27)
        or (line.startswith("sudo mv") and "proposed.toml" in said)
    )


def test_every_line_is_right_for_a_shell() -> None:
    """No line has a quote or bracket too few."""
    for page, line in LINES:
        checked = subprocess.run(["bash", "-n", "-c", line], capture_output=True, text=True, check=False)
        assert checked.returncode == 0, f"{page}: {line}: {checked.stderr}"


def test_guides_are_found() -> None:
    """The commands of each guide that has some are among those typed."""
    pages = {page for page, _ in LINES}
    assert {
        "first-evening.md",
        "adding-a-room.md",
        "heater-setting.md",
        "troubles.md",
        "backup-update.md",
        "by-hand.md",
    } <= pages
