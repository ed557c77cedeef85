"""The service under the real service manager: systemd as process 1 of a fresh Debian tree, a real mosquitto in it.

One machine lives through a story, in the order of the tests: installed, booted, stopped, killed, hung, given up
on, broker late, updated, removed. A stranger's plug writes down each order. Bounds stand beside what was measured.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.deploy.machine import Machine, make_tree, make_wheels, wait_for
from tests.faults.bounds import CHAIN

pytestmark = [pytest.mark.night, pytest.mark.timeout(1800)]
CLONE = Path(__file__).parents[2]
INSTALL = "bash /clone/deploy/install.sh --wheels /wheels"
HOUSE = """
[house]
timezone = "UTC"
tick = "1 s"
[broker]
user = "thermostatd"
password_file = "/etc/thermostatd/secrets/broker-password"
[pages]
listen = "127.0.0.1:8420"
[[circuit]]
name = "north sockets"
breaker_amps = 16
[[room]]
name = "study"
sensor = { topic = "study/air", pointer = "/celsius" }
usual = [{ at = "00:00", celsius = 20 }]
[[room.heater]]
name = "column"
watts = 600
min_on = "1 s"
min_off = "1 s"
circuit = "north sockets"
may_run = ["awake", "asleep", "away"]
plug = { kind = "mqtt", tell = "plug/7/set", shows = { topic = "plug/7", pointer = "/on" }, draws = { topic = "plug/7", pointer = "/watts" }, timer = { payload = "true {seconds}" }, rated_amps = 13, power_on = "off" }
"""  # noqa: E501
NEVER_READY = "[Service]\nExecStart=\nExecStart=/bin/false\nRestartSec=1\n"
TABLE: list[tuple[str, float, float]] = []


def measured(scenario: str, bound: float, what: Callable[[], object], *, began: float | None = None) -> None:
    """Wait for something within its bound in seconds (since `began`: a monotonic time), and keep both."""
    began = time.monotonic() if began is None else began
    wait_for(what, bound - (time.monotonic() - began))
    TABLE.append((scenario, bound, time.monotonic() - began))


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """The tree, booted, with nothing of the project in it yet."""
    folder = tmp_path_factory.mktemp("machine")
    tree, wheels = folder / "tree", folder / "wheels"
    tree.mkdir()
    make_tree(tree)
    make_wheels(CLONE, wheels)
    machine = Machine(tree, CLONE, wheels, folder / "boot.log")
    try:
        machine.boot()
        yield machine
    finally:
        machine.remove()
        print("\n| scenario | bound s | measured s |\n|---|---|---|")
        for scenario, bound, seconds in TABLE:
            print(f"| {scenario} | {bound:.0f} | {seconds:.1f} |")


def orders(machine: Machine) -> list[str]:
    """What the plug was told so far."""
    return machine.tells("cut -d' ' -f2- /tmp/orders 2>/dev/null").splitlines()


def told(machine: Machine, on: bool) -> Callable[[], bool]:
    """Whether the plug was told ON, or OFF, since now."""
    before = len(orders(machine))

    def was_told() -> bool:
        return any(order.startswith("true") == on for order in orders(machine)[before:])

    return was_told


def seconds_to_ready(machine: Machine) -> float:
    """From the start of the process to READY, by the service manager's own stamps."""
    ready = int(machine.show("thermostatd", "ActiveEnterTimestampMonotonic"))
    return (ready - int(machine.show("thermostatd", "ExecMainStartTimestampMonotonic"))) / 1e6


def heating(machine: Machine) -> None:
    """The daemon runs, and the last order was ON."""
    wait_for(lambda: (orders(machine) or ["none"])[-1].startswith("true"), 120)


def test_installs_twice_and_overwrites_nothing(machine: Machine) -> None:
    """A second run keeps house file, secrets, names on the broker and the ACL, byte for byte."""
    machine.run(INSTALL + " --no-start", 300)
    assert machine.show("thermostatd", "LoadState") == "loaded"
    assert machine.tells("systemctl is-active thermostatd") == "inactive"
    machine.run("echo '# mine' >> /etc/thermostatd/house.toml; echo '# mine' >> /etc/mosquitto/thermostatd.acl")
    kept = "sha256sum /etc/thermostatd/house.toml /etc/thermostatd/secrets/* /etc/mosquitto/thermostatd.*"
    before = machine.run(kept)
    machine.run(INSTALL + " --no-start", 300)
    assert machine.run(kept) == before
    assert machine.run("ls /opt/thermostatd/versions | wc -l").strip() == "2"


def test_secrets_are_for_the_daemon_alone(machine: Machine) -> None:
    """Another user of the machine can read neither house file nor secrets nor the broker's names."""
    for path in ("/etc/thermostatd/secrets/broker-password", "/etc/thermostatd/house.toml",
                 "/etc/mosquitto/thermostatd.passwords", "/var/lib/thermostatd"):  # fmt: skip
        assert machine.tells(f"setpriv --reuid=65534 --clear-groups ls {path} >/dev/null 2>&1 && "
                             f"setpriv --reuid=65534 --clear-groups cat {path} 2>/dev/null") == ""  # fmt: skip
    assert "thermostatd:$" in machine.run("cat /etc/mosquitto/thermostatd.passwords")


def test_ready_and_heating(machine: Machine) -> None:
    """Started by the installer, the service says READY after its first tick and warms the cold room."""
    (machine.tree / "etc/thermostatd/house.toml").write_text(HOUSE)
    (machine.tree / "stranger.py").write_text((CLONE / "tests/deploy/stranger.py").read_text())
    machine.run(INSTALL, 300)
    machine.run("systemd-run --unit=stranger -p StandardInput=file:/etc/thermostatd/secrets/broker-password "
                "/opt/thermostatd/current/bin/python /stranger.py")  # fmt: skip
    TABLE.append(("start: READY", 60, seconds_to_ready(machine)))
    assert TABLE[-1][2] < 60
    assert machine.show("thermostatd", "WatchdogUSec") == "1min"
    measured("start: cold room told ON", 120, lambda: any(o.startswith("true") for o in orders(machine)))


def test_stop_tells_off(machine: Machine) -> None:
    """`systemctl stop` ends with the plug told OFF, and with success."""
    heating(machine)
    off = told(machine, on=False)
    machine.run("systemctl stop thermostatd", 60)
    measured("stop: plug told OFF", CHAIN["the program is stopped"], off)
    assert machine.show("thermostatd", "Result") == "success"
    machine.run("systemctl start thermostatd", 120)


def test_a_kill_tells_off_and_comes_back(machine: Machine) -> None:
    """kill -9: OFF by the broker within seconds, running again within 30 s."""
    heating(machine)
    off, pid = told(machine, on=False), machine.show("thermostatd", "MainPID")
    machine.run(f"kill -9 {pid}")
    began = time.monotonic()
    measured("kill -9: plug told OFF", 5, off, began=began)
    measured("kill -9: READY again", 30, lambda: machine.tells("systemctl is-active thermostatd") == "active"
             and machine.show("thermostatd", "MainPID") != pid, began=began)  # fmt: skip


def test_a_hang_is_ended_by_the_watchdog(machine: Machine) -> None:
    """A daemon that decides no more is ended within its 60 s and some, the plug told OFF, and it comes back."""
    heating(machine)
    off, pid = told(machine, on=False), machine.show("thermostatd", "MainPID")
    machine.run(f"kill -STOP {pid}")
    began = time.monotonic()
    measured("hang: plug told OFF", CHAIN["the program stops deciding"], off, began=began)
    measured("hang: ended by the watchdog and READY again", 120,
             lambda: machine.show("thermostatd", "MainPID") not in (pid, "0")
             and machine.tells("systemctl is-active thermostatd") == "active", began=began)  # fmt: skip
    assert "watchdog" in machine.tells("journalctl -u thermostatd --no-pager | grep -i watchdog").lower()


def test_giving_up_tells_off_and_tries_again(machine: Machine) -> None:
    """A program that cannot start ends in the failure unit: OFF, and a timer that tries anew."""
    heating(machine)
    machine.run(f"mkdir -p /run/systemd/system/thermostatd.service.d; printf '{NEVER_READY}' > "
                "/run/systemd/system/thermostatd.service.d/broken.conf; systemctl daemon-reload")  # fmt: skip
    machine.tells("systemctl restart thermostatd")
    measured("gives up after ten deaths", 120, lambda: machine.show("thermostatd", "ActiveState") == "failed")
    off = told(machine, on=False)
    bound = CHAIN["the program gives up"]
    measured("given up: failure unit ran", bound, lambda: machine.show("thermostatd-off", "ExecMainStatus") == "0"
             and int(machine.show("thermostatd-off", "ExecMainExitTimestampMonotonic") or 0) > 0)  # fmt: skip
    assert off() or orders(machine)[-1] == "false"
    assert machine.tells("systemctl is-active thermostatd-again.timer") == "active"
    machine.run("rm -r /run/systemd/system/thermostatd.service.d; systemctl daemon-reload")
    machine.run("systemctl reset-failed thermostatd")
    machine.run("systemctl stop thermostatd-again.timer; systemctl start thermostatd", 120)


def test_a_late_broker(machine: Machine) -> None:
    """The service is READY without a broker, and heats once it comes."""
    machine.run("systemctl stop thermostatd mosquitto", 60)
    machine.run("systemctl start thermostatd", 120)
    assert machine.tells("systemctl is-active thermostatd") == "active"
    on = told(machine, on=True)
    machine.run("systemctl start mosquitto")
    measured("broker late: cold room told ON", 120, on)


def test_no_secret_in_arguments_or_logs(machine: Machine) -> None:
    """Neither password stands in any process's arguments or environment, nor in the journal."""
    for name in ("broker-password", "owner-passphrase"):
        file = f"/etc/thermostatd/secrets/{name}"
        assert machine.tells(f"cat /proc/[0-9]*/cmdline /proc/[0-9]*/environ | grep -acF -f {file}") == "0"
        assert machine.tells(f"journalctl --no-pager | grep -cF -f {file}") == "0"


def test_an_update_keeps_data_and_goes_on(machine: Machine) -> None:
    """The installer over a running service: another program, the same data, heating again."""
    before = machine.run("readlink /opt/thermostatd/current; cat /etc/thermostatd/house.toml | sha256sum").split()
    time.sleep(1.1)  # versions are named by the second
    machine.run(INSTALL, 300)
    after = machine.run("readlink /opt/thermostatd/current; cat /etc/thermostatd/house.toml | sha256sum").split()
    assert after[0] != before[0]
    assert after[1:] == before[1:]
    assert machine.tells("ls /var/lib/thermostatd/before-update")
    assert int(machine.tells("ls /opt/thermostatd/versions | wc -l")) == 2
    assert machine.tells("systemctl is-active thermostatd") == "active"
    heating(machine)


def test_a_refused_house_file_keeps_the_old_program(machine: Machine) -> None:
    """An update that does not accept the house file changes nothing."""
    path = machine.tree / "etc/thermostatd/house.toml"
    right, current = path.read_text(), machine.run("readlink /opt/thermostatd/current")
    path.write_text(right.replace('name = "column"', 'name = "column"\ncolour = "white"'))
    assert "colour" in machine.tells(f"{INSTALL} 2>&1", 300)
    assert machine.run("readlink /opt/thermostatd/current") == current
    assert machine.tells("systemctl is-active thermostatd") == "active"
    path.write_text(right)


def test_after_a_reboot_it_heats_by_itself(machine: Machine) -> None:
    """After a power cut the machine comes up with broker and daemon, in whichever order, and nobody's hand."""
    machine.stop()
    machine.boot()
    wait_for(lambda: machine.tells("systemctl is-active thermostatd") == "active", 90)
    TABLE.append(("boot: READY", 60, seconds_to_ready(machine)))
    assert TABLE[-1][2] < 60


def test_uninstall_keeps_data_until_told(machine: Machine) -> None:
    """Removing tells OFF and keeps house file and data; --purge takes them, and the user."""
    machine.run("bash /clone/deploy/uninstall.sh", 90)
    assert machine.tells("systemctl list-unit-files --no-legend 'thermostatd*'") == ""
    assert machine.tells("ls -d /opt/thermostatd /usr/local/bin/thermostatd 2>/dev/null") == ""
    assert machine.tells("ls /var/lib/thermostatd/*.db /etc/thermostatd/house.toml").count("\n") >= 1
    machine.run("bash /clone/deploy/uninstall.sh --purge", 90)
    assert machine.tells("ls -d /var/lib/thermostatd /etc/thermostatd /etc/mosquitto/thermostatd.* 2>/dev/null") == ""
    assert machine.tells("id thermostatd 2>/dev/null") == ""
