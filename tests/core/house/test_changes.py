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


HEATER = BASE["room"][0]["heater"][0]
SPOT = {"name": "sewing table", "heater": HEATER | {"name": "panel", "kind": "infrared"}}


def _told(**change: Any) -> tuple[str, ...]:
    other = deepcopy(BASE)
    for path, value in change.items():
        table: Any = other
        *steps, last = [int(step) if step.isdigit() else step for step in path.split("__")]
        for step in steps:
            table = table.setdefault(step, {}) if isinstance(table, dict) else table[step]
        if isinstance(table, list) and last == len(table):
            table.append(value)
        else:
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
        ({"circuit__1": {"name": "south", "breaker_amps": 10}}, "south: a new circuit"),
        ({"spot": [SPOT]}, "sewing table: a new spot"),
        ({"room__1": {"name": "den", "sensor": {"topic": "d"}}}, "den: a new room"),
        ({"room__0__heater__1": HEATER | {"name": "flat"}}, "study/flat: a new heater"),
        ({"room__0__band": 0.0}, "study: band 0.5 → 0"),
        ({"room__0__ceiling_celsius": 26.5}, "study: ceiling 27 → 26.5"),
        ({"room__0__cold_celsius": 10.0}, "study: cold limit 12 → 10"),
        ({"room__0__household__lowest": 15.0}, "study: lowest target 12 → 15"),
        ({"room__0__quiet": [{"from": "22:00", "to": "06:00"}]}, "study: quiet hours none → 22:00 06:00 4"),
        ({"pages": {"open": True}}, "pages: open false → true"),
        ({"house__name": "x" * 40}, f"house: name House → {'x' * 40}"),
        ({"house__asleep": {"from": "23:00", "to": "06:00"}}, "house: asleep none → 23:00 06:00"),
        ({"broker__password_file": "/etc/secret"}, "broker: password_file changed"),
        ({"broker__tls": {"ca": "/etc/ca"}}, "broker: tls changed"),
        ({"pages__owner_passphrase_file": "/etc/secret"}, "pages: owner_passphrase_file changed"),
        ({"tariff": {"per_kwh": 2.0}}, "[tariff]: a new table"),
        ({"room__0__heater__0__may_run": ["awake", "away"]}, "study/column: may_run awake → awake, away"),
    ],
)
def test_each_change_is_a_sentence(change: dict[str, Any], said: str) -> None:
    """Where, what, from, to; nothing that may be secret."""
    assert _told(**change) == (said,)


def test_the_same_house_changes_nothing() -> None:
    """No difference, no sentence."""
    assert _told() == ()


def test_what_is_gone_is_told_too() -> None:
    """Tables and circuits, and the heater of a spot; in the order of the file."""
    full = deepcopy(BASE) | {
        "tariff": {"per_kwh": 2.0, "prices": [{"from": "17:00", "to": "20:00", "per_kwh": 3.0}] * 5},
        "notices": {"webhook": "https://h/secret"}, "spot": [SPOT],
    }  # fmt: skip
    bare = deepcopy(full) | {"circuit": [], "tariff": None, "notices": {"webhook": "https://h/other"}}
    bare["spot"] = [SPOT | {"longest": "30 min", "heater": SPOT["heater"] | {"watts": 500}}]
    assert changes(House.model_validate(full), House.model_validate(bare)) == (
        "[tariff]: taken out", "notices: webhook changed", "north: this circuit is taken out",
        "sewing table: longest 90 min → 30 min", "sewing table/panel: selector setting 600 → 500",
    )  # fmt: skip


def test_a_long_value_is_cut() -> None:
    """To sixty signs."""
    prices = [{"from": f"{hour:02}:00", "to": f"{hour:02}:30", "per_kwh": 1.5} for hour in range(9)]
    dear = deepcopy(BASE) | {"tariff": {"per_kwh": 2.0, "prices": prices}}
    plain = deepcopy(BASE) | {"tariff": {"per_kwh": 3.0}}
    told = changes(House.model_validate(plain), House.model_validate(dear))
    assert told[0] == "tariff: price 3 → 2"
    assert told[1] == "tariff: prices none → daily 00:00 00:30 1.5, daily 01:00 01:30 1.5, daily 02:00  …"
    assert len(told[1].partition("→ ")[2]) == 60
