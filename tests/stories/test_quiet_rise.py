"""A room with few switchings in its quiet hours is warm when they end: one of them was kept for that. All invented.

Its night had used them up, or its morning was begun hours too early since it could not be let go of again: three
quarters of an hour off either way, where its evenings were within eight minutes.
"""

from __future__ import annotations

from datetime import UTC, datetime

from thermostatd.core.house import House
from thermostatd.rehearsal.trial import Trial

START = datetime(2026, 1, 12, tzinfo=UTC)
DAY, MORNING = 86400.0, 6.5 * 3600.0
NEAR_MINUTES, MOST_MINUTES = 10.0, 20.0
SWITCHES = 4


def house():
    """One room under the roof with a panel."""
    heater = {
        "name": "h", "kind": "panel", "watts": 700, "may_run": ["awake", "asleep", "away"],
        "plug": {"kind": "simulated"},
    }  # fmt: skip
    room = {
        "name": "loft", "control": "predictive", "sensor": {"topic": "loft/air"}, "heater": [heater],
        "usual": [
            {"at": "06:30", "celsius": 19}, {"at": "08:30", "celsius": 17},
            {"at": "20:00", "celsius": 19}, {"at": "22:30", "celsius": 17},
        ],
        "quiet": [{"from": "22:30", "to": "06:30", "switches": SWITCHES}],
    }  # fmt: skip
    return House.model_validate({"house": {"timezone": "UTC", "outdoor": {"topic": "yard"}}, "room": [room]})


class Nights(Trial):
    """Eight days, of which the first two are learned from; the most switchings of a night are counted."""

    def __init__(self, seed):
        super().__init__(house(), "predictive", seed=seed, start=START, days=8, warm_days=0)
        self.most, self.late = 0, []

    def _judge(self, moment, result, joules):
        super()._judge(moment, result, joules)
        self.most = max(self.most, self.regulator._memory.rooms["loft"].quiet_used)

    def mornings(self):
        """Minutes late, from the third morning on."""
        arrivals = self._judges["loft"].finish().arrivals
        return [late for at, late in arrivals if at > 3 * DAY and abs(at % DAY - MORNING) < 60.0]


def test_the_morning_after_a_quiet_night_is_warm_on_time():
    """Most mornings of two Januaries within ten minutes, each within twenty; never more switchings than allowed."""
    late = []
    for seed in (1, 2):
        nights = Nights(seed)
        nights.run()
        assert nights.most <= SWITCHES
        late += nights.mornings()
    assert len(late) == 10
    assert sum(abs(one) <= NEAR_MINUTES for one in late) >= 8, late
    assert all(abs(one) <= MOST_MINUTES for one in late), late
