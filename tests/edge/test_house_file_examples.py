"""The example houses load, the schema is current, and both speak of the same keys."""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from thermostatd.core.house import House
from thermostatd.edge.house_check import check_house, check_lines
from thermostatd.edge.house_file import load_house
from thermostatd.edge.house_schema import schema_text

CONFIG = Path(__file__).parents[2] / "config"
EXAMPLES = sorted(CONFIG.glob("*.toml"))
SCHEMA = json.loads((CONFIG / "house.schema.json").read_text(encoding="utf-8"))


def by_name(file):
    return file.name


def test_the_examples_are_there():
    """The smallest house, a full one, a large one and the demo's."""
    assert [file.name for file in EXAMPLES] == ["demo.toml", "house.toml", "large-house.toml", "one-room.toml"]


@pytest.mark.parametrize("file", EXAMPLES, ids=by_name)
def test_each_example_has_no_fault(file):
    """An example is never refused."""
    faults, warnings = check_lines(file)
    assert faults == []
    assert check_house(file)[1] == 0
    assert all(line.startswith(f"{file}:") for line in warnings)


@pytest.mark.parametrize("file", EXAMPLES, ids=by_name)
def test_each_example_says_that_it_is_invented(file):
    """Nobody takes an example for a real house."""
    assert "invented" in file.read_text(encoding="utf-8").splitlines()[0].lower()


def test_the_schema_is_current():
    """config/house.schema.json is what the models make: python -m thermostatd.edge.house_schema."""
    assert (CONFIG / "house.schema.json").read_bytes() == schema_text().encode("utf-8")


def test_the_schema_is_sound():
    """It is a schema of the 2020-12 dialect (checked by the reference library jsonschema)."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("file", EXAMPLES, ids=by_name)
def test_each_example_fits_the_schema(file):
    """The reference library jsonschema takes each example."""
    jsonschema.Draft202012Validator(SCHEMA).validate(tomllib.loads(file.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('tick = "10 s"', 'tick = "10"'),
        ('tick = "10 s"', "tick = 10"),
        ('tick = "10 s"', "tock = 10"),
        ("port = 1883", "port = 0"),
        ('control = "proportional"', 'control = "magic"'),
        ('days = "mon-fri"', 'days = "weekly"'),
        ('at = "07:30"', 'at = "7:30"'),
        ('name = "study"\n', ""),
        ("watts = 600 ", "watts = 5000 "),
        ('kind = "mqtt"\ntell', 'kind = "magic"\ntell'),
    ],
)
def test_the_schema_refuses_what_the_loader_refuses(old, new):
    """A mistake that an editor can see by the schema is seen."""
    text = (CONFIG / "house.toml").read_text(encoding="utf-8")
    assert old in text
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(SCHEMA).validate(tomllib.loads(text.replace(old, new, 1)))


def defaults(schema):
    for name, table in {"House": schema, **schema["$defs"]}.items():
        for key, value in table["properties"].items():
            if "default" in value:
                yield f"{name}.{key}", value


def test_defaults_stand_in_the_schema_as_an_owner_writes_them():
    """Every default fits its own pattern: "5 min", not 300.0."""
    found = {key: value["default"] for key, value in defaults(SCHEMA)}
    assert found["Heater.min_on"] == "5 min"
    assert found["Heater.longest_run"] == "12 h"
    assert found["Household.longest"] == "24 h"
    assert found["Spot.longest"] == "90 min"
    assert found["HouseTable.tick"] == "10 s"
    assert found["Room.cycle"] == "20 min"
    assert found["UsualStep.days"] == "daily"
    for key, value in defaults(SCHEMA):
        whole = {**value, "$defs": SCHEMA["$defs"]}
        jsonschema.Draft202012Validator(whole).validate(value["default"])
        assert value["default"] is not None, key


def test_every_key_of_the_schema_is_described():
    """An editor can say what each key is."""
    tables = {"House": SCHEMA, **SCHEMA["$defs"]}
    bare = [f"{name}.{key}" for name, table in tables.items() for key, value in table["properties"].items()
            if "description" not in value]
    assert bare == []


@pytest.mark.parametrize("file", EXAMPLES, ids=by_name)
def test_a_house_written_out_reads_back_as_itself(file):
    """A house dumped as JSON, in the owner's words, is the same house again."""
    house = load_house(file)
    written = json.loads(house.model_dump_json(by_alias=True, exclude_none=True))
    assert House.model_validate(written) == house


def test_the_demo_house():
    """The demo has four rooms of several sizes, a spot, timers, a shared circuit, and stays on loopback."""
    house = load_house(CONFIG / "demo.toml")
    assert len(house.rooms) == 4
    assert len(house.spots) == 1
    assert house.broker.serve
    assert house.broker.port == 18830
    assert house.pages.listen == "127.0.0.1:8420"
    assert all(heater.plug.switches_itself_off for _, heater, _ in house.heaters())
    assert {room.control for room in house.rooms} == {"hysteresis", "proportional", "predictive"}
    circuits = [room.heaters[0].circuit for room in house.rooms]
    assert len(set(circuits)) < len(circuits)


def test_the_large_house():
    """The large example has twenty rooms."""
    assert len(load_house(CONFIG / "large-house.toml").rooms) == 20


def test_check_tells_faults_and_exits_1(tmp_path):
    """`check` prints each fault with its line and exits 1; warnings alone exit 0."""
    text = (CONFIG / "one-room.toml").read_text(encoding="utf-8")
    file = tmp_path / "house.toml"
    file.write_text(text)
    shown, code = check_house(file)
    assert code == 0
    assert f"{file}: no faults, 6 warnings" in shown
    file.write_text(text.replace("watts = 600", "watts = -600"))
    shown, code = check_house(file)
    assert code == 1
    assert f"fault    {file}:11: room[study].heater[column].watts: " in shown


def test_check_tells_dangers_first(tmp_path):
    """A plug rated just under its heater's current at high mains comes before warnings of lines above it."""
    file = tmp_path / "house.toml"
    text = (CONFIG / "one-room.toml").read_text(encoding="utf-8")
    file.write_text(text.replace("watts = 600", "watts = 2990"))
    shown, code = check_house(file)
    told = [line.split()[0] for line in shown.splitlines() if ".toml:" in line][:-1]
    assert code == 0
    assert told == ["danger"] + ["warning"] * (len(told) - 1)
    assert "13 A is too low for 14.3 A" in shown.splitlines()[0]
    assert [one["danger"] for one in json.loads(check_house(file, as_json=True)[0])["warnings"][:2]] == [True, False]


def test_check_as_json(tmp_path):
    """`check --json` gives the same in parts."""
    file = tmp_path / "house.toml"
    file.write_text((CONFIG / "one-room.toml").read_text(encoding="utf-8").replace("watts = 600", "watts = -600"))
    shown, code = check_house(file, as_json=True)
    told = json.loads(shown)
    assert code == 1
    assert told["fine"] is False
    assert [(fault["line"], fault["key"]) for fault in told["faults"]] == [(11, "room[study].heater[column].watts")]
    assert set(told["faults"][0]) == {"file", "line", "key", "what", "mend", "danger"}


def test_warnings_carry_their_line():
    """A warning stands at the line of its key."""
    file = CONFIG / "house.toml"
    rows = file.read_text(encoding="utf-8").splitlines()
    _, warnings = check_lines(file)
    (timer,) = [line for line in warnings if "cannot switch itself off" in line]
    assert 'no_self_off = "accepted"' in rows[int(timer.split(":")[1]) - 1]
