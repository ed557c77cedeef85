"""A sound house as a table, to be spoilt or changed one key at a time."""

import copy

from thermostatd.core.house import House

PLUG = {
    "kind": "mqtt", "tell": "plug/1/set", "shows": {"topic": "plug/1", "pointer": "/on"},
    "draws": {"topic": "plug/1", "pointer": "/watts"}, "timer": {"payload": "true {seconds}"},
    "rated_amps": 16, "power_on": "off",
}
HEATER = {
    "name": "column", "watts": 600, "circuit": "north", "may_run": ["awake", "asleep", "away"], "plug": PLUG,
}
SOUND = {
    "house": {"name": "Quay House", "timezone": "Europe/Oslo", "asleep": {"from": "23:00", "to": "06:30"}},
    "circuit": [{"name": "north", "breaker_amps": 16}],
    "room": [{
        "name": "study", "sensor": {"topic": "study/air"}, "usual": [{"at": "07:30", "celsius": 20}],
        "heater": [HEATER],
    }],
    "spot": [{
        "name": "sewing table",
        "heater": {
            "name": "panel", "kind": "infrared", "watts": 900, "circuit": "north",
            "plug": PLUG | {"tell": "plug/2/set", "shows": {"topic": "plug/2", "pointer": "/on"}},
        },
    }],
}


def house(*changes):
    """The sound house with changes: each is (path, value); the value ... takes the key out."""
    data = copy.deepcopy(SOUND)
    for path, value in changes:
        here = data
        for part in path[:-1]:
            here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
        if value is ...:
            del here[path[-1]]
        elif isinstance(here, list) and path[-1] == len(here):
            here.append(value)
        else:
            here[path[-1]] = value
    return House.model_validate(data)


ROOM = ("room", 0)
COLUMN = (*ROOM, "heater", 0)
PANEL = ("spot", 0, "heater")
