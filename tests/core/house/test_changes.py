"""What a changed file is said to change."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from thermostatd.core.house import House
from thermostatd.core.house.changes import changes

BASE: dict[str, Any] = {
    "circuit": [{"name": "north", "breaker_amps": 16}],
    "room": [
        {
            "name": "study", "sensor": {"topic": "study/air"}, "household": {"highest": 22.0, "longest": "12 h"},
            "usual": [{"days": "mon-fri", "at": "07:30", "celsius": 20}],
            "heater": [{"name": "column", "watts": 600, "circuit": "north",
                        "plug": {"kind": "mqtt", "tell": "plug/7/set", "timer": {"payload": "true {seconds}"}}}],
        }
    ],
}  # fmt: skip


def _told(**change: Any) -> tuple[str, ...]:
    other = deepcopy(BASE)
    for path, value in change.items():
        table: Any = other
        *steps, last = [int(step) if step.isdigit() else step for step in path.split("__")]
        for step in steps:
            table = table.setdefault(step, {}) if isinstance(table, dict) else table[step]
        table[last] = value
    return changes(House.model_validate(BASE), House.model_validate(other))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"room__0__household__highest": 21.0}, "study: target limit 22 → 21"),
        ({"room__0__household__longest": "6 h"}, "study: longest request 12 h → 6 h"),
        ({"room__0__heater__0__watts": 800}, "study/column: selector setting 600 → 800"),
        ({"room__0__usual": []}, "study: usual week mon-fri 07:30 20 → none"),
        ({"room__0__sensor__topic": "desk/air"}, "study: sensor.topic study/air → desk/air"),
        ({"circuit__0__breaker_amps": 10}, "north: breaker_amps 16 → 10"),
        ({"house__frost_celsius": 6.0}, "house: frost target 7 → 6"),
        ({"room__0__heater__0__plug__tell": "plug/8/set"}, "study/column: plug changed"),
        ({"room__0__heater": []}, "study/column: this heater is taken out"),
        ({"room": []}, "study: this room is taken out"),
        ({"notices": {"webhook": "https://h/secret"}}, "[notices]: a new table"),
    ],
)
def test_each_change_is_a_sentence(change: dict[str, Any], said: str) -> None:
    """Where, what, from, to; nothing that may be secret."""
    assert _told(**change) == (said,)


def test_the_same_house_changes_nothing() -> None:
    """No difference, no sentence."""
    assert _told() == ()
