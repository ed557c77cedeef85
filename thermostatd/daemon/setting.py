"""Another setting, for a trial: one value of a house changed as an owner would write it.

`study.differential=0.2` changes a key of a room, `study/column.watts=800` of a heater, `house.frost_celsius=6` of the
whole house. SettingError names what is wrong and what there is; the owner's file is never written.
"""

from __future__ import annotations

import tomllib
from typing import Any

from pydantic import ValidationError

from thermostatd.core.house import House, Room
from thermostatd.core.house.plugs import Heater
from thermostatd.core.house.tables import HouseTable
from thermostatd.edge.house_faults import findings_of
from thermostatd.edge.house_keys import readable


class SettingError(ValueError):
    """A setting that cannot be tried, and why."""


def changed(house: House, settings: tuple[str, ...]) -> House:
    """The house with each `place.key=value` in force."""
    plain = house.model_dump(mode="json", by_alias=True)
    for setting in settings:
        left, sign, value = setting.partition("=")
        place, dot, key = left.strip().rpartition(".")
        if not (sign and dot and place and key):
            raise SettingError(f'"{setting}" is no setting: write it as study.differential=0.2')
        _table(plain, place, key)[key] = _value(value.strip())
    try:
        return House.model_validate(plain)
    except ValidationError as fault:
        first = findings_of(fault, plain)[0]
        raise SettingError(f"{readable(first.path, plain)}: {first.what}. {first.mend}") from fault


def _table(plain: dict[str, Any], place: str, key: str) -> dict[str, Any]:
    """The table that a place names. SettingError where there is none, or it knows no such key."""
    found: dict[str, dict[str, Any]] = {"house": plain["house"]}
    models: dict[str, type[HouseTable] | type[Room] | type[Heater]] = {"house": HouseTable}
    for room in plain["room"]:
        found[room["name"]], models[room["name"]] = room, Room
        for heater in room["heater"]:
            found[f"{room['name']}/{heater['name']}"] = heater
            models[f"{room['name']}/{heater['name']}"] = Heater
    if place not in found:
        raise SettingError(f'there is no "{place}"; there are: {", ".join(found)}')
    keys = [field.alias or name for name, field in models[place].model_fields.items()]
    if key not in keys:
        raise SettingError(f'"{place}" has no key "{key}"; it has: {", ".join(keys)}')
    return found[place]


def _value(written: str) -> Any:
    """A value as TOML reads it; bare words and durations may stand without quotes."""
    try:
        return tomllib.loads(f"x = {written}")["x"]
    except tomllib.TOMLDecodeError:
        return written.strip("'\"")
