"""A house file that becomes wrong: the last good one stands in for it at a start, and for `all-off`."""

from __future__ import annotations

import stat
from pathlib import Path

from tests.daemon.home import Home, command
from tests.daemon.test_reloading import SECOND
from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.daemon.kept_house import NAME, keep_house, kept_house
from thermostatd.edge.house_file import load_house


def heats(home: Home, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A cold reading, and the heater runs."""
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on, 10), home.log


def spoil(home: Home) -> str:
    """A mistyped day; gives the good text."""
    good = home.file.read_text()
    home.file.write_text(good.replace('days = "daily"', 'days = "dayly"'))
    return good


def test_all_off_and_run_by_the_last_good_house(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """The file becomes wrong, the daemon is killed: `all-off` tells the plugs, a start heats on, and both say so."""
    home = Home(tmp_path / "home", broker.port)
    with home:
        heats(home, broker, plug)
        kept = home.state / NAME
        assert wait_until(kept.exists)
        assert stat.S_IMODE(kept.stat().st_mode) == 0o600
        good = spoil(home)
        assert wait_until(lambda: "is not in force" in home.log)
        assert wait_until(lambda: [one["code"] for one in home.house()["troubles"]] == ["house-file"], 4)
        assert home.house()["troubles"][0]["loud"]
        home.kill()
        plug.press(True)
        ended = home.say("all-off", str(home.file))
        assert ended.returncode == 0, ended.stderr
        assert "dayly" in ended.stderr
        assert "last good one" in ended.stderr
        assert "1 plug was told OFF." in ended.stdout
        assert wait_until(lambda: not plug.on)
        (home.folder / "daemon.log").write_text("")
        home.start()
        assert "dayly" in home.log
        assert "is not in force" in home.log
        heats(home, broker, plug)
        assert [one["code"] for one in home.house()["troubles"]] == ["house-file"]
        home.file.write_text(good)
        assert wait_until(lambda: home.house()["troubles"] == [], 5), home.log
        assert plug.on
    assert wait_until(lambda: not plug.on)


def test_no_kept_house(tmp_path: Path, broker: Mosquitto) -> None:
    """A file that never was in force, or that of another house, has none to stand in for it."""
    home = Home(tmp_path / "home", broker.port)
    spoil(home)
    for words in (("all-off", str(home.file)), ("run", str(home.file))):
        ended = home.say(*words)
        assert ended.returncode == 1
        assert "dayly" in ended.stderr
    other = tmp_path / "other.toml"
    other.write_text(home.file.read_text().replace("dayly", "daily"))
    home.state.mkdir(exist_ok=True)
    keep_house(home.state, other, other.read_text())
    assert kept_house(home.state, other) == load_house(other)
    assert kept_house(home.state, home.file) is None
    assert home.say("run", str(home.file)).returncode == 1


def test_all_off_tells_what_left_the_file(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A heater that was taken out while the daemon was down is told OFF all the same, and each plug once."""
    home = Home(tmp_path / "home", broker.port)
    both = home.file.read_text() + SECOND
    home.state.mkdir()
    keep_house(home.state, home.file, both)
    plug.press(True)
    with StrangersPlug(broker.port, "plug/8") as second:
        second.press(True)
        ended = home.say("all-off", str(home.file))
        assert "2 plugs were told OFF." in ended.stdout, ended.stderr
        assert wait_until(lambda: not plug.on and not second.on)
        assert len(second.orders) == len(plug.orders)


def test_all_off_says_that_a_daemon_goes_on(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """By hand beside a running daemon: who runs it learns that this is not for good; the daemon's links are its own."""
    heats(home, broker, plug)
    lost = home.log.count("was lost")
    ended = command("all-off", str(home.file))
    assert ended.returncode == 0, ended.stderr
    assert "1 plug was told OFF." in ended.stdout
    assert "will switch on again" in ended.stderr
    assert wait_until(lambda: not plug.on)
    assert home.log.count("was lost") == lost
    home.kill()
    ended = command("all-off", str(home.file))
    assert "will switch on again" not in ended.stderr


def test_all_off_without_a_broker(tmp_path: Path) -> None:
    """The broker's absence is said once, and that nothing was told."""
    home = Home(tmp_path / "home", free_port())
    home.file.write_text(home.file.read_text() + SECOND)
    ended = command("all-off", str(home.file))
    assert ended.returncode == 1
    assert "told OFF" not in ended.stdout
    assert ended.stderr.count("Nobody listens") == 1, ended.stderr
    assert "no plug was told OFF" in ended.stderr
    assert "study/column, loft/panel" in ended.stderr


def test_a_state_folder_that_cannot_keep_it(tmp_path: Path) -> None:
    """What cannot be kept, or is no text, is as if there were none."""
    file = tmp_path / "house.toml"
    file.write_text(Home(tmp_path / "home", 1883).file.read_text())
    keep_house(tmp_path / "nowhere", file, file.read_text())
    assert kept_house(tmp_path / "nowhere", file) is None
    (tmp_path / NAME).write_bytes(b"\xff\xfe\x00")
    assert kept_house(tmp_path, file) is None
