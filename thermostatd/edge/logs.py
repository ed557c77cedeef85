"""Logs to stderr: one line an event, with the level prefix that the journal reads (sd-daemon(3)).

What is no printable sign, a line break or a terminal's escape, is made visible, so that nothing a device or
person sent can forge a line. Without the journal a line begins with its time and offset (RFC 3339).
"""

from __future__ import annotations

import logging
import os
import sys
from datetime import UTC, datetime

_PRIORITIES = ((logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))


class _Lines(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        message = _visible(record.getMessage())
        text = f"{record.name.removeprefix('thermostatd.')}: {message}"
        if record.exc_info:
            text += " | " + _visible(self.formatException(record.exc_info).replace("\n", " | "))
        if "JOURNAL_STREAM" not in os.environ:
            at = datetime.fromtimestamp(record.created, UTC).astimezone().isoformat(timespec="seconds")
            return f"{at} {record.levelname.lower():8} {text}"
        priority = next((number for level, number in _PRIORITIES if record.levelno >= level), 7)
        return f"<{priority}>{text}"


class _Plain(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        return _visible(record.getMessage())


def _visible(words: str) -> str:
    return words if words.isprintable() else "".join(s if s.isprintable() else repr(s)[1:-1] for s in words)


def start_logging(level: int = logging.INFO) -> None:
    """Everything from this program, and warnings from others."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Lines())
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
    logging.getLogger("thermostatd").setLevel(level)


def log_each_once() -> None:
    """For a command: warnings as plain lines, each sentence once, however many connections say it."""
    handler, said = logging.StreamHandler(sys.stderr), set[str]()

    def new(record: logging.LogRecord) -> bool:
        text = record.getMessage()
        return text not in said and not said.add(text)  # type: ignore[func-returns-value]

    handler.addFilter(new)
    handler.setFormatter(_Plain())
    logging.basicConfig(level=logging.WARNING, handlers=[handler], force=True)
