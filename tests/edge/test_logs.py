"""One line an event, that nobody outside can forge."""

from __future__ import annotations

import logging
import subprocess
import sys
from datetime import datetime

import pytest

WORDS = (
    "a name\nfatal: the house burns",
    "\r\x1b[2Jgone",
    "\u2028next",
    "\x85next",
    "nul\x00",
    "plain °C and “quotes”",
)


@pytest.mark.parametrize("words", WORDS)
def test_no_line_is_forged(words: str) -> None:
    """Whatever a device or person sent, it makes one printable line (ASVS 5.0: 16.4.1)."""
    program = "import sys, logging; from thermostatd.edge.logs import start_logging; start_logging();"
    program += f"logging.getLogger('thermostatd.x').warning('said %s', {words!r})"
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True, timeout=20).stderr
    line = said.decode()
    assert line.endswith("\n")
    assert line[:-1].isprintable(), line
    assert line.count("\n") == 1


def test_when_with_offset() -> None:
    """A line begins with its time and the offset from UTC (RFC 3339; ASVS 5.0: 16.2.2)."""
    from thermostatd.edge.logs import _Lines

    line = _Lines().format(logging.LogRecord("thermostatd.x", 30, "", 0, "word", None, None))
    assert datetime.fromisoformat(line.split()[0]).utcoffset() is not None
    assert "warning" in line


def test_the_journal_gets_its_priority(monkeypatch: pytest.MonkeyPatch) -> None:
    """Under the journal a line begins with its priority (sd-daemon(3)), and what failed stays on the line."""
    from thermostatd.edge.logs import _Lines

    monkeypatch.setenv("JOURNAL_STREAM", "8:1")
    try:
        raise ValueError("one\ntwo")
    except ValueError:
        record = logging.LogRecord("thermostatd.x", 40, "", 0, "failed", None, sys.exc_info())
    line = _Lines().format(record)
    assert line.startswith("<3>x: failed | Traceback")
    assert line.isprintable()
