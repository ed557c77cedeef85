"""The keys of a house file and their defaults, written out one by one."""

import pytest

from thermostatd.core.house import (
    Broker,
    Circuit,
    Heater,
    House,
    Household,
    HouseTable,
    MqttPlug,
    Pages,
    Quiet,
    Room,
    Sensor,
    SimulatedPlug,
    Spot,
)
from thermostatd.core.house.plugs import Timer
from thermostatd.core.house.sensors import ForecastSource, Presence, Source
from thermostatd.core.house.tables import Asleep, BrokerTls, PagesTls, Season

REQUIRED = object()
MINUTE, HOUR = 60.0, 3600.0
TABLE = {
    HouseTable: {
        "name": "House", "timezone": "UTC", "mains_volts": 230.0, "mains_tolerance": 0.10, "outdoor": None,
        "forecast": None, "frost_celsius": 7.0, "asleep": None, "tick": 10.0, "season": None,
    },
    Asleep: {"from": REQUIRED, "to": REQUIRED},
    Season: {"from": REQUIRED, "to": REQUIRED},
    Broker: {
        "host": "127.0.0.1", "port": 1883, "user": None, "password_file": None, "tls": None, "serve": False,
        "asks": False,
    },
    BrokerTls: {"ca": None, "cert": None, "key": None},
    Pages: {
        "listen": "127.0.0.1:8420", "hosts": (), "open": False, "owner_passphrase_file": None, "tls": None,
        "weeks": "owner",
    },
    PagesTls: {"cert": REQUIRED, "key": REQUIRED},
    Circuit: {"name": REQUIRED, "breaker_amps": REQUIRED, "continuous_share": 0.8},
    Household: {"lowest": 12.0, "highest": 23.0, "longest": 24 * HOUR},
    Quiet: {"from": REQUIRED, "to": REQUIRED, "switches": 4},
    Room: {
        "name": REQUIRED, "sensor": None, "sensors": (), "humidity": None, "control": "hysteresis",
        "differential": 0.4, "cycle": 20 * MINUTE, "household": Household(), "usual": (), "quiet": (),
        "ceiling_celsius": 27.0, "cold_celsius": 12.0, "band": 0.5, "heater": (),
        "clicks": "some",
    },
    Source: {"topic": REQUIRED, "pointer": ""},
    ForecastSource: {"topic": REQUIRED, "pointer": "", "time": None, "unit": "C"},
    Presence: {"topic": REQUIRED, "pointer": "", "yes": "online", "no": "offline"},
    Sensor: {
        "topic": REQUIRED, "pointer": "", "time": None, "unit": "C", "scale": 1.0, "offset": 0.0,
        "stale_after": None, "present": None, "battery": None,
    },
    Heater: {
        "name": REQUIRED, "kind": "oil-filled", "watts": REQUIRED, "settings_watts": (), "sustained_watts": None,
        "circuit": None, "min_on": 5 * MINUTE, "min_off": 5 * MINUTE, "longest_run": 12 * HOUR,
        "may_run": ("awake",), "by_hand": "off", "plug": REQUIRED,
    },
    Timer: {"payload": REQUIRED, "topic": None, "then_on": False},
    MqttPlug: {
        "kind": "mqtt", "tell": REQUIRED, "on": "true", "off": "false", "timer": None, "shows": None, "draws": None,
        "volts": None, "warm": None, "present": None, "ask_state": None, "rated_amps": None,
        "rated_operations": 100_000, "no_self_off": None, "power_on": None,
    },
    SimulatedPlug: {
        "kind": "simulated", "rated_amps": None, "rated_operations": 100_000, "no_self_off": None, "power_on": None,
    },
    Spot: {
        "name": REQUIRED, "longest": 90 * MINUTE, "heater": REQUIRED, "turn": "first", "metres": 1.5,
        "unasked": None, "usual": (),
    },
}


@pytest.mark.parametrize("table", TABLE, ids=lambda table: table.__name__)
def test_each_table_has_exactly_these_keys_and_defaults(table):
    """A key is neither added, dropped nor given another default unnoticed."""
    found = {
        field.alias or name: REQUIRED if field.is_required() else field.get_default()
        for name, field in table.model_fields.items()
    }
    assert found == TABLE[table]


def test_a_house_has_these_tables():
    """The top of a house file takes these tables and no other."""
    names = {field.alias or name for name, field in House.model_fields.items()}
    assert names == {"house", "broker", "pages", "circuit", "room", "spot", "tariff", "notices"}


@pytest.mark.parametrize("table", [*TABLE, House], ids=lambda table: table.__name__)
def test_each_key_is_described(table):
    """Every key says what it is, so that the schema can."""
    assert [name for name, field in table.model_fields.items() if not field.description] == []
