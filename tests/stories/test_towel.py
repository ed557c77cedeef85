"""A towel on a heater with a small body, in a simulated house: it is told, and once it is gone the room is warm again.

What such a heater seemed to sustain under the towel had been learned from: paced by that for good, its room stood
ten kelvins cold in the frost, and nothing was told. All invented.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from thermostatd.core.asking import Seen
from thermostatd.core.house import House
from thermostatd.rehearsal.trial import Trial

START = datetime(2026, 1, 12, tzinfo=UTC)
HOUR = 3600.0
COVERED, UNCOVERED, LOOKED, END = 30 * HOUR, 36 * HOUR, 37 * HOUR, 60 * HOUR
KEY = "loft/h"


def house(kind):
    """One room with one heater of that kind."""
    heater = {
        "name": "h", "kind": kind, "watts": 700, "may_run": ["awake", "asleep", "away"], "plug": {"kind": "simulated"},
    }  # fmt: skip
    usual = [{"at": "00:00", "celsius": 19}]
    room = {"name": "loft", "sensor": {"topic": "loft/air"}, "usual": usual, "heater": [heater]}
    return House.model_validate({"house": {"timezone": "UTC", "outdoor": {"topic": "yard"}}, "room": [room]})


class Towel(Trial):
    """Two and a half days."""

    def __init__(self, kind):
        super().__init__(house(kind), "hysteresis", seed=1, start=START, days=END / 86400.0, warm_days=0)
        self.told, self.paced, self.air = {}, 0, []

    def _judge(self, moment, result, joules):
        super()._judge(moment, result, joules)
        now = moment.steady
        if now == COVERED:
            self.simulated.fault(KEY, "covered")
        if now == UNCOVERED:
            self.simulated.mend(KEY)
        if now == LOOKED:
            for trouble in result.troubles:
                self.regulator.do(moment, Seen(trouble.id, "owner"))
        for trouble in result.troubles:
            self.told.setdefault(trouble.code, (now, trouble.loud))
        if now > END - 6 * HOUR:
            held = [one.code for one in result.rooms["loft"].heaters[KEY].verdicts if one.tripped]
            self.paced += "pacing" in held
            self.air.append(self.simulated.shown_air("loft"))


@pytest.mark.parametrize("kind", ["panel", "convector", "infrared"])
def test_a_towel_is_told_and_leaves_nothing_behind(kind):
    """Loudly, within an hour; nothing that was learned from it holds."""
    towel = Towel(kind)
    towel.run()
    first = min(at for code, (at, loud) in towel.told.items() if code in ("opens-early", "covered") and loud)
    assert COVERED < first < COVERED + HOUR
    assert towel.regulator._memory.heaters[KEY].facts.sustained_watts is None
    assert towel.paced == 0
    assert sum(towel.air) / len(towel.air) == pytest.approx(19.0, abs=0.5)
