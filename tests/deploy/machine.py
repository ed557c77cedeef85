"""A Debian machine of its own: a debootstrap tree, booted by systemd-nspawn with systemd as process 1.

Rules: it has only a loopback network; the clone and a folder of wheels are seen read-only in it; it runs until
`stop`, and only what was started here is ended. Needs root, debootstrap and systemd-container.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

PACKAGES = "systemd,systemd-sysv,dbus,python3,python3-venv,mosquitto,mosquitto-clients"


def make_tree(folder: Path) -> None:
    """A bare Debian 12 in `folder`. THERMOSTATD_TREE names one made earlier, which is copied instead."""
    ready = os.environ.get("THERMOSTATD_TREE")
    if ready:
        subprocess.run(["cp", "-a", "--reflink=auto", f"{ready}/.", str(folder)], check=True)
        return
    bootstrap(folder, PACKAGES)


def bootstrap(folder: Path, packages: str) -> None:
    """A bare Debian 12 with these packages, from its mirror; what kept it from that is told."""
    command = ["debootstrap", "--variant=minbase", f"--include={packages}", "bookworm", str(folder)]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=1800)
    log = folder / "debootstrap" / "debootstrap.log"
    more = log.read_text(errors="replace")[-1500:] if log.is_file() else ""
    assert done.returncode == 0, f"debootstrap: {done.stdout[-500:]}{done.stderr[-500:]}{more}"


def make_wheels(clone: Path, folder: Path) -> None:
    """Wheels of the clone and all it needs, by the system's Python: the tree has no way to a registry."""
    venv = folder.parent / "builder"
    subprocess.run(["/usr/bin/python3", "-m", "venv", str(venv)], check=True)
    subprocess.run([f"{venv}/bin/pip", "wheel", "-q", "--wheel-dir", str(folder), str(clone)], check=True, timeout=900)


def wait_for(what: Callable[[], object], seconds: float, step: float = 0.2) -> float:
    """Seconds until `what()` came true; AssertionError if it did not within `seconds`."""
    began = time.monotonic()
    while not what():
        if time.monotonic() - began > seconds:
            raise AssertionError(f"not within {seconds:.0f} s: {getattr(what, '__name__', what)}")
        time.sleep(step)
    return time.monotonic() - began


class Machine:
    """The booted tree. `run` runs a command in it, as root."""

    def __init__(self, tree: Path, clone: Path, wheels: Path, log: Path) -> None:
        self.tree, self.log = tree, log
        self._binds = [f"--bind-ro={clone}:/clone", f"--bind-ro={wheels}:/wheels"]
        self._nspawn: subprocess.Popen[bytes] | None = None
        self._leader = 0

    def boot(self) -> None:
        """Start it, and wait until its service manager says that it runs."""
        command = ["systemd-nspawn", "--quiet", "--boot", f"--directory={self.tree}", "--register=no",
                   "--keep-unit", "--private-network", "--hostname=house", *self._binds]  # fmt: skip
        with self.log.open("ab") as log:
            self._nspawn = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        wait_for(self._found_leader, 30)
        wait_for(lambda: self.tells("systemctl is-system-running") in ("running", "degraded"), 90)

    def _found_leader(self) -> bool:
        assert self._nspawn
        if self._nspawn.poll() is not None:
            raise AssertionError(f"systemd-nspawn ended: {self.log.read_text(errors='replace')[-2000:]}")
        children = Path(f"/proc/{self._nspawn.pid}/task/{self._nspawn.pid}/children").read_text().split()
        self._leader = int(children[0]) if children else 0
        return bool(children) and self.tells("cat /proc/1/comm") == "systemd"

    def _call(self, command: str, seconds: float) -> subprocess.CompletedProcess[str]:
        inside = ["nsenter", "--target", str(self._leader), "--all", "env", "-i", "HOME=/root",
                  "PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "sh", "-c", command]  # fmt: skip
        return subprocess.run(inside, capture_output=True, text=True, timeout=seconds)

    def run(self, command: str, seconds: float = 60) -> str:
        """What a command prints; AssertionError with all it said, if it fails."""
        done = self._call(command, seconds)
        assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"
        return done.stdout

    def tells(self, command: str, seconds: float = 60) -> str:
        """What a command prints, whether it fails or not."""
        return self._call(command, seconds).stdout.strip()

    def show(self, unit: str, key: str) -> str:
        """One property of a unit."""
        return self.tells(f"systemctl show -P {key} {unit}")

    def stop(self) -> None:
        """Power off; kill what does not go."""
        if not self._nspawn:
            return
        if self._nspawn.poll() is None and self._leader:
            os.kill(self._leader, signal.SIGRTMIN + 4)
        try:
            self._nspawn.wait(60)
        except subprocess.TimeoutExpired:
            self._nspawn.kill()
            self._nspawn.wait(10)
        self._nspawn = None

    def remove(self) -> None:
        """Stop it and take its tree away."""
        self.stop()
        shutil.rmtree(self.tree, ignore_errors=True)
