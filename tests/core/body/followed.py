"""The study's column and its body at one moment, as it is followed from step to step.

Rules: the study's column, 600 W of an invented house, at one moment; all candidates are alike unless a test says so.
"""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW, case_of
from tests.stories.teller import study
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import CANDIDATES, SHARES, later

STORE, USUAL, MIDDLE = 5000.0, 140.0, CANDIDATES // 2
COLUMN_1500 = study(heater="settings_watts = [588, 912, 1500]").replace("watts = 600", "watts = 1500")
WALL = NOON.timestamp()
ON = {"told_on": True, "shown_on": True, "on_since": NOW - 900.0, "meter_period": 10.0}
OFF = {"told_on": False, "shown_on": False, "off_since": NOW - 900.0, "meter_period": 10.0}


def each(value: float) -> list[float]:
    """One value for each candidate."""
    return [value] * CANDIDATES


def body_of(**changed) -> BodyMemory:
    """A body at 50, last looked at now, that stood 20 and last proved 40 a minute ago, on 600 W."""
    fields = {
        "store_joules": STORE, "usual_opens": USUAL, "at": NOW, "watts": 600.0, "warmth": each(50.0),
        "proven": each(40.0), "proven_at": NOW - 60.0, "proven_watts": 600.0, "peak_watts": 600.0,
        "most": each(20.0), "begun": 0.0,
    }  # fmt: skip
    return BodyMemory(**fields | changed)


def running(body: BodyMemory | None = None, **more):
    """The column, on since a quarter of an hour."""
    return case_of(**{"body": body or body_of()} | ON | more)


def resting(body: BodyMemory | None = None, **more):
    """The column, off since a quarter of an hour."""
    return case_of(**{"body": body or body_of(watts=0.0)} | OFF | more)


def metered(watts: float, body: BodyMemory | None = None, at: float = NOW, **more):
    """The column running, with a report."""
    return running(body, watts=watts, watts_at=at, **more)


def after(warmth: float, watts: float, seconds: float, n: int = MIDDLE) -> float:
    """One candidate's warmth later."""
    return pytest.approx(later(warmth, watts, seconds, STORE * SHARES[n]), abs=2e-3)


def same(found: list[float], warmth: float, watts: float, seconds: float) -> bool:
    """Whether every candidate has gone on from one warmth so."""
    return found == pytest.approx(
        [later(warmth, watts, seconds, STORE * share) for share in SHARES], abs=2e-3
    )


def at_middle() -> list[float]:
    """All weight on the middle candidate."""
    return [float(n == MIDDLE) for n in range(CANDIDATES)]
