"""Logs to stderr: one line an event, with the level prefix that the journal reads (sd-daemon(3)).

A line break inside a message is made visible, so that nothing a device or person sent can forge a line.
"""

from __future__ import annotations

import logging
import os
import sys

_PRIORITIES = ((logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))


class _Lines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        message = record.getMessage().replace("\r", "\\r").replace("\n", "\\n")
        text = f"{record.name.removeprefix('thermostatd.')}: {message}"
        if record.exc_info:
            text += " | " + self.formatException(record.exc_info).replace("\n", " | ")
        if "JOURNAL_STREAM" not in os.environ:
            return f"{self.formatTime(record, '%H:%M:%S')} {record.levelname.lower():8} {text}"
        priority = next((number for level, number in _PRIORITIES if record.levelno >= level), 7)
        return f"<{priority}>{text}"


def start_logging(level: int = logging.INFO) -> None:
    """Everything from this program, and warnings from others."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Lines())
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
    logging.getLogger("thermostatd").setLevel(level)
