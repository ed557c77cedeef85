"""How a request is refused, and what was written by others is shown in it.

Rules: a refusal is one of the closed list in reasons.py; a name is kept, logged and shown as one printable line.
"""

from __future__ import annotations

from thermostatd.core.asking import Refused
from thermostatd.core.placing import Fault
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said as text_of

MOST_SIGNS = 40


def refuse(code: str, **numbers: float | str) -> Refused:
    """A refusal of the closed list; its limit is the number named `limit`."""
    return Refused(code, sentence(code, **numbers), numbers.get("limit"))


def refuse_statement(fault: Fault) -> Refused:
    """A statement about a heater that cannot be; a name as it was written is shown as any other."""
    numbers = {key: shown(value) if key == "name" else value for key, value in fault.numbers.items()}
    return refuse(fault.code, **numbers)


def clean(text: object, otherwise: str) -> str:
    """A name as it may be kept and logged: one line, printable, at most 40 characters."""
    printable = "".join(sign for sign in str(text) if sign.isprintable()) if text is not None else ""
    return printable.strip()[:MOST_SIGNS] or otherwise


def shown(name: object) -> str:
    """A name that nobody knows, as it may be shown."""
    return clean(name, "?")


def hours(seconds: float) -> str:
    """The longest that may be asked for: "90 minutes", "12 hours"."""
    if seconds % 3600 and seconds < 3 * 3600:
        return text_of("{minutes:.0f} minutes", minutes=seconds / 60)
    return text_of("{hours:g} hours", hours=round(seconds / 3600, 1))
