"""A plug that a program of the owner's switches.

Rules: a list of words, never a shell; it gets no input and none of the daemon's secrets; it and its children are
killed when the timeout is over; 16 KiB of what it prints are read; an exit code other than 0 is a failure.
"""

from __future__ import annotations

import os
import selectors
import signal
import subprocess
import time
from collections.abc import Sequence
from contextlib import suppress

from thermostatd.core.house import ProgramPlug as Description
from thermostatd.core.values import PlugReport
from thermostatd.edge.broker_payload import LARGEST_PAYLOAD_BYTES
from thermostatd.edge.plugs.answers import report_from
from thermostatd.edge.plugs.errands import ErrandError

KEPT_NAMES = ("PATH", "HOME", "LANG", "TZ")


class ProgramSwitch:
    """The programs of one plug."""

    def __init__(self, plug: Description) -> None:
        self._plug = plug

    def on(self, seconds: int) -> None:
        """The timed words, else the plain ones."""
        words = self._plug.timer or self._plug.on
        run([word.replace("{seconds}", str(seconds)) for word in words], self._plug.timeout)

    def off(self) -> None:
        """The words for OFF."""
        run(self._plug.off, self._plug.timeout)

    def state(self) -> PlugReport | None:
        """What it prints, read."""
        if self._plug.state is None:
            return None
        return report_from(run(self._plug.state, self._plug.timeout), self._plug)


def run(words: Sequence[str], timeout_seconds: float) -> bytes:
    """Run one program to its end; what it printed. ErrandError where it failed, was too slow or said too much."""
    end = time.monotonic() + timeout_seconds
    environment = {name: os.environ[name] for name in KEPT_NAMES if name in os.environ}
    try:
        process = subprocess.Popen(
            list(words),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment,
            start_new_session=True,
        )
    except (OSError, ValueError) as fault:
        raise ErrandError(f"{words[0]} cannot be run: {fault}") from fault
    try:
        said = _read(process, end)
        code = process.wait(max(0.0, end - time.monotonic()))
    except subprocess.TimeoutExpired:
        raise ErrandError(f"{words[0]} took longer than {timeout_seconds:g} s and was ended") from None
    finally:
        _end(process)
    if len(said) > LARGEST_PAYLOAD_BYTES:
        raise ErrandError(f"{words[0]} printed more than {LARGEST_PAYLOAD_BYTES} bytes")
    if code != 0:
        raise ErrandError(f"{words[0]} ended with exit code {code}")
    return said


def _read(process: subprocess.Popen[bytes], end: float) -> bytes:
    """What it prints until it closes its output, ends, or has said too much. TimeoutExpired when time is over."""
    assert process.stdout is not None
    said = b""
    with selectors.DefaultSelector() as selector:
        selector.register(process.stdout, selectors.EVENT_READ)
        while len(said) <= LARGEST_PAYLOAD_BYTES:
            if time.monotonic() >= end:
                raise subprocess.TimeoutExpired(process.args, 0)
            over = process.poll() is not None
            if selector.select(0.0 if over else min(0.1, max(0.0, end - time.monotonic()))):
                piece = os.read(process.stdout.fileno(), 8192)
                if not piece:
                    break
                said += piece
            elif over:  # a child of its own may hold the output open: nobody waits for that
                break
    return said


def _end(process: subprocess.Popen[bytes]) -> None:
    """The program and all its children, unless it ended by itself."""
    if process.poll() is None:
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    if process.stdout is not None:
        process.stdout.close()
