"""Plugs over HTTP, by a program, and from another package: what the one contract does not ask."""

# ruff: noqa: E501
from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from tests.edge.plugs.worlds import KEY, file_world, house_with, program_plug
from tests.parts.http_plug import HttpRelay
from tests.parts.mosquitto import free_port, wait_until
from tests.parts.steady import Steady
from thermostatd.core.house import AddedPlug, HttpPlug
from thermostatd.daemon.plugs_off import tell_all_off
from thermostatd.edge.house_file import inspect_house
from thermostatd.edge.plugs import make_plug
from thermostatd.edge.plugs.errands import ErrandError, ErrandPlug
from thermostatd.edge.plugs.http import call
from thermostatd.edge.plugs.program import run


@pytest.fixture
def relay() -> Iterator[HttpRelay]:
    made = HttpRelay()
    yield made
    made.close()


def _plug(relay: HttpRelay, now: Steady | None = None, **more: object) -> ErrandPlug:
    plug = HttpPlug.model_validate(relay.described(**more))
    made = make_plug(KEY, plug, house_with(plug), now or Steady())
    assert isinstance(made, ErrandPlug)
    return made


def test_telling_never_waits_for_a_plug_that_hangs(relay: HttpRelay) -> None:
    """A plug that takes the connection and says nothing costs the tick nothing, and counts as not reachable."""
    relay.hangs = 3.0
    plug = _plug(relay)
    plug.start()
    time.sleep(0.1)
    began = time.monotonic()
    for _ in range(100):
        plug.tell(True, 900.0)
        plug.news()
    assert time.monotonic() - began < 0.2
    assert wait_until(lambda: (said := plug.news()) is not None and not said.reachable, 3.0)
    relay.hangs = 0.0
    plug.stop()
    assert not relay.on


def test_off_is_tried_until_it_arrives_and_an_on_is_not(
    relay: HttpRelay, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A refused ON is dropped; a refused OFF is told again."""
    monkeypatch.setattr("thermostatd.edge.plugs.errands.AGAIN_SECONDS", 0.2)
    plug = _plug(relay, every="100 s")
    plug.start()
    assert wait_until(lambda: plug.connected)
    relay.status, relay.asked[:] = 503, []
    plug.tell(True, 900.0)
    time.sleep(0.7)
    assert len([path for path, _ in relay.asked if path.startswith("/on")]) == 1
    plug.tell(False, 0.0)
    time.sleep(0.5)
    relay.status = 200
    assert wait_until(lambda: len([path for path, _ in relay.asked if path == "/off"]) >= 3)
    plug.stop()


def test_an_on_that_nobody_renews_ends_here(relay: HttpRelay) -> None:
    """A plug without a timer is told OFF when its ON lapses, even if the tick hangs."""
    now = Steady()
    plug = _plug(relay, now, timer=None)
    plug.start()
    plug.tell(True, 900.0)
    assert wait_until(lambda: relay.on)
    now.pass_by(901.0)
    assert wait_until(lambda: not relay.on, 3.0)
    plug.stop()


def test_no_redirect_no_long_answer_no_secret_in_the_fault(relay: HttpRelay) -> None:
    """A redirect is a failure; the user's name and word go as a header and never into the log."""
    plug = HttpPlug.model_validate(relay.described())
    secret = plug.on.model_copy(update={"url": relay.address.replace("//", "//ana:hush@") + "/on"})
    call(secret, 1.0)
    assert relay.asked[-1] == ("/on", "Basic YW5hOmh1c2g=")
    relay.status, relay.until = 302, 0.0
    with pytest.raises(ErrandError, match="answered 302") as told:
        call(secret, 1.0)
    assert "hush" not in str(told.value)
    assert not relay.on
    with pytest.raises(ErrandError, match="ConnectionRefusedError"):
        call(plug.on.model_copy(update={"url": f"http://127.0.0.1:{free_port()}/on"}), 1.0)


def test_a_program_is_given_words_and_no_shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Signs that mean something to a shell are plain text, and the daemon's own names are not handed on."""
    monkeypatch.setenv("NOTIFY_SOCKET", "/run/secret")
    said = run([sys.executable, "-c", "import os,sys;print(sys.argv[1], 'NOTIFY_SOCKET' in os.environ)",
                f"$(touch {tmp_path}/x); `id` | cat > /tmp/y &"], 5.0)  # fmt: skip
    assert said.decode().startswith("$(touch")
    assert said.decode().strip().endswith("False")
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ([sys.executable, "-c", "import time; time.sleep(60)"], "longer than"),
        ([sys.executable, "-c", "import sys; sys.exit(3)"], "exit code 3"),
        (
            [sys.executable, "-c", "while True: print('x' * 9999, flush=True)"],
            "more than 16384 bytes|longer than",
        ),
        (["/nowhere/relay"], "cannot be run"),
    ],
)
def test_a_program_that_fails(words: list[str], why: str) -> None:
    """Too slow, a failure, too much output, not there: each is an error with its reason, soon."""
    began = time.monotonic()
    with pytest.raises(ErrandError, match=why):
        run(words, 0.6)
    assert time.monotonic() - began < 3.0


def test_children_of_a_slow_program_are_killed_too(tmp_path: Path) -> None:
    """What a program started goes with it when its time is over."""
    note = tmp_path / "pid"
    child = f"import os,time; open({str(note)!r},'w').write(str(os.getpid())); time.sleep(60)"
    words = [
        sys.executable,
        "-c",
        f"import subprocess,sys; subprocess.run([sys.executable, '-c', {child!r}])",
    ]
    with pytest.raises(ErrandError, match="longer"):
        run(words, 5.0)  # two interpreters have to start first, on a machine that may be busy
    pid = int(note.read_text())

    def gone() -> bool:
        with suppress(ProcessLookupError, FileNotFoundError):
            return Path(f"/proc/{pid}/stat").read_text().split()[2] == "Z" or bool(os.kill(pid, 0))
        return True

    assert wait_until(gone, 3.0)


def test_a_program_plug(tmp_path: Path) -> None:
    """ON for seconds, seen, ended by itself, and OFF at the end."""
    world = file_world(program_plug(tmp_path / "relay"), tmp_path / "relay", None)
    world.begin()
    world.adapter.tell(True, 2.0)
    assert world.see(lambda report: report.on is True and (report.watts or 0) > 300)
    assert world.see(lambda report: report.on is False)
    world.end()
    assert not world.contact()


def test_a_plug_of_another_package(tmp_path: Path, example_package: None) -> None:
    """An installed package's adapter is found by its name, is driven, and tells what it shows."""
    plug = AddedPlug(adapter="relay-file", settings={"file": str(tmp_path / "relay")}, has_timer=True)
    world = file_world(plug, tmp_path / "relay", "until")
    world.begin()
    world.adapter.tell(True, 900.0)
    assert world.see(lambda report: report.on is True and report.watts == 541.0)
    world.end()
    assert not world.contact()


def _file(folder: Path, plug: str) -> Path:
    file = folder / "house.toml"
    file.write_text(
        f'[[room]]\nname = "study"\nsensor = {{ topic = "a" }}\n[[room.heater]]\nname = "column"\nwatts = 600\nplug = {plug}\n'
    )
    return file


@pytest.mark.parametrize(
    ("plug", "line"),
    [
        ('{ kind = "added", adapter = "lamp", has_timer = true }', 'plug.adapter: no installed package brings an adapter "lamp"'),
        ('{ kind = "added", adapter = "relay-file", no_self_off = "accepted" }', "plug.has_timer: .* Write has_timer = true"),
        ('{ kind = "added", adapter = "relay-file", has_timer = true, settings = { foo = 1 } }', "plug.settings: .*is needed"),
        ('{ kind = "program", on = ["relay"], off = ["/bin/false"], no_self_off = "accepted" }', "without its place"),
        ('{ kind = "program", on = ["/bin/true"], off = ["/bin/false"] }', "cannot switch itself off"),
        ('{ kind = "http", on = { url = "http://h/1" }, off = { url = "http://h/1" }, no_self_off = "accepted" }', "same as on"),
        ('{ kind = "http", on = { url = "ftp://h" }, off = { url = "http://h/0" } }', "no web address"),
        ('{ kind = "http", on = { url = "http://h/1" }, off = { url = "http://h/0" }, timer = { url = "http://h/t" } }', "how long"),
        ('{ kind = "homie", device = "Plug 3", switch = "relay/on" }', "no id of the convention"),
        ('{ kind = "homie", device = "plug-3", switch = "on" }', "no property"),
    ],
)  # fmt: skip
def test_faults_in_such_plugs(tmp_path: Path, example_package: None, plug: str, line: str) -> None:
    """Each fault of such a plug is named with its line, its key and a mend."""
    faults = inspect_house(_file(tmp_path, plug)).faults
    assert faults
    assert any(re.search(line, str(fault)) for fault in faults), [str(fault) for fault in faults]
    assert all(fault.line == 7 for fault in faults)


def test_all_off_reaches_them_too(tmp_path: Path, relay: HttpRelay) -> None:
    """`all-off` tells plugs OFF that are no clients of the broker, and names those that it could not tell."""
    relay.until = time.time() + 100
    plug = HttpPlug.model_validate(relay.described())
    assert tell_all_off(house_with(plug), 3.0).left == ()
    assert not relay.on
    gone = HttpPlug.model_validate(relay.described(off={"url": f"http://127.0.0.1:{free_port()}/off"}))
    assert tell_all_off(house_with(gone), 0.5).left == (KEY,)


def _children() -> set[str]:
    """Process ids of all that this process started and has not reaped: proc(5), `children`."""
    return {pid for one in Path("/proc/self/task").glob("*/children") for pid in one.read_text().split()}


def test_a_stopped_program_leaves_nothing_running() -> None:
    """Nothing that was run is still there afterwards."""
    before = _children()
    run(["/bin/true"], 2.0)
    assert _children() <= before
    assert subprocess.run(["/bin/true"], check=True).returncode == 0
