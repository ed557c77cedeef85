"""The commands beside a running daemon, and what they say when they cannot."""

from __future__ import annotations

import json
import re
import socket
from pathlib import Path
from urllib.parse import urlencode

from click.testing import CliRunner

from tests.daemon.home import Home, command
from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.cli import main

FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def _join(home: Home, code: str):
    here = {"Origin": f"http://127.0.0.1:{home.pages}"}
    return home.call("POST", "/join", urlencode({"code": code, "name": "Ana's phone"}), FORM | here)


def test_join_and_why(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A stranger may not ask; a code joins one phone, once; `why` says what holds."""
    with Home(tmp_path / "home", broker.port, open_pages=False) as home:
        status, refused = home.ask()
        assert status == 403
        assert refused["sentence"]
        said = home.say("join", str(home.file))
        assert said.returncode == 0, said.stderr
        assert f"http://127.0.0.1:{home.pages}/join" in said.stdout
        assert 'listen = "0.0.0.0:8420"' in said.stdout  # a phone would not reach this page
        assert f"the page is at http://127.0.0.1:{home.pages}" in home.log
        code = re.search(r"\d{4} \d{4}", said.stdout)[0]
        status, _, headers = _join(home, code)
        assert status == 303
        assert headers["set-cookie"]
        assert _join(home, code)[0] == 403
        cookie = {"Cookie": headers["set-cookie"].partition(";")[0]}
        body = {"room": "study", "celsius": 21.5, "until": "no-end"}
        assert home.call("POST", "/api/ask", body, cookie)[0] == 200
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
        why = home.say("why", "study")
        assert why.returncode == 0, why.stderr
        for word in (
            "18.00 °C",
            "target   21.5 °C",
            "Ana's phone",
            "study/column: ordered ON",
            "checks proven good",
        ):
            assert word in why.stdout
        _clear(home.say("why", "attic"), 1, "attic", "study")
        told = json.loads(home.say("why", "study", "--json").stdout)
        assert (told["air_celsius"], told["target_celsius"], told["whose"]) == (18.0, 21.5, "Ana's phone")
        assert told["heaters"]["study/column"]["ordered_on"]
        assert told["why"] in why.stdout.splitlines()[0]
        _clear(
            command("run", str(home.file), "--state", str(home.state)),
            1,
            "another thermostatd",
            str(home.state),
        )
        assert home.health()["ok"], "the first goes on"


def _clear(said, code: int, *words: str) -> None:
    """A fault is one exit code and clear words, never a traceback."""
    assert said.returncode == code, (said.stdout, said.stderr)
    assert "Traceback" not in said.stderr
    for word in words:
        assert word in said.stderr, said.stderr


def test_wrong_usage(tmp_path: Path) -> None:
    """A missing or faulty file, no daemon, or a word that is none: a clear sentence and code 1 or 2."""
    _clear(command("run", str(tmp_path / "none.toml")), 1, "none.toml")
    faulty = tmp_path / "faulty.toml"
    faulty.write_text('[house]\nname = "Tern House"\ntimezone = "Europe/Nowhere"\nfoo = 1\n')
    _told(1, ["run", str(faulty), "--state", str(tmp_path / "s")], "faulty.toml", "timezone", "foo")
    _told(1, ["why", "study", "--state", str(tmp_path)], "no thermostatd runs")
    _told(2, ["run"], "HOUSE")
    _told(2, ["heat"], "heat")


def _told(code: int, said: list[str], *words: str) -> None:
    """The same within this process."""
    answer = CliRunner().invoke(main, said)
    assert (answer.exit_code, type(answer.exception)) == (code, SystemExit)
    for word in words:
        assert word in answer.output


def test_all_off(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """`all-off` tells every plug OFF with no daemon there, and names those that it could not tell."""
    home = Home(tmp_path / "home", broker.port)
    plug.press(True)
    said = command("all-off", str(home.file))
    assert said.returncode == 0, said.stderr
    assert "1 plug" in said.stdout
    assert wait_until(lambda: not plug.on)
    assert plug.orders[-1].payload == "false"


def test_all_off_beside(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """`all-off` beside a running daemon leaves the daemon well."""
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on)
    told = len(plug.orders)
    assert command("all-off", str(home.file)).returncode == 0
    assert any(order.payload == "false" for order in plug.orders[told:])
    assert wait_until(lambda: home.health().get("ok"), 10, 0.1)


def test_port_in_use(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Where the pages' port is taken the heating goes on and the log says why."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        home = Home(tmp_path / "home", broker.port, pages=taken.getsockname()[1])
        home.start(wait=False)
        try:
            assert wait_until(lambda: "cannot be served" in home.log, 20, 0.1), home.log
            assert wait_until(lambda: plug.orders, 10, 0.1)
            broker.publish("study/air", "18")
            assert wait_until(lambda: plug.on, 5)
            assert "Traceback" not in home.log
        finally:
            code, _ = home.terminate()
        assert code == 0
        assert wait_until(lambda: not plug.on)


def test_all_off_unreached(tmp_path: Path) -> None:
    """`all-off` without a broker names each plug that must be switched off by hand."""
    from thermostatd.daemon.plugs_off import tell_all_off
    from thermostatd.edge.house_file import load_house

    home = Home(tmp_path / "home", free_port())
    assert tell_all_off(load_house(home.file), 0.5).left == ("study/column",)


def test_no_broker_of_its_own(tmp_path: Path, broker: Mosquitto) -> None:
    """Where the embedded broker cannot have its port, `run` ends with a clear sentence and code 1."""
    home = Home(tmp_path / "home", broker.port, broker_more="serve = true")
    _clear(command("run", str(home.file), "--state", str(home.state)), 1, str(broker.port))


def test_no_owner_socket(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A state folder whose path is too long for a socket (unix(7): 107 bytes) costs `join` and `why`, not the heat."""
    home = Home(tmp_path / "home", broker.port)
    home.state = tmp_path / ("x" * 110)
    with home:
        assert "cannot be answered" in home.log
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
    _clear(home.say("why", "study"), 1, "gave no answer")
