"""Loading a house file: each fault is told with its file, line, key and mend."""

import os
import re

import pytest

import thermostatd.edge.house_file as house_file
from thermostatd.core.house import House
from thermostatd.edge.house_file import HouseFileError, load_house
from thermostatd.edge.house_files import first_line

GOOD = """\
[house]
name = "Quay House"        # invented
asleep = { from = "23:00", to = "06:30" }
[[circuit]]
name = "north"
breaker_amps = 16
[[room]]
name = "study"
sensor = { topic = "study/air", pointer = "/celsius" }
control = "hysteresis"
usual = [
  { at = "07:30", celsius = 20 },
  { at = "22:00", celsius = 16 },
]
[[room.heater]]
name = "column"
watts = 600
circuit = "north"
plug = { kind = "mqtt", tell = "plug/1/set", timer = { payload = "true {seconds}" } }
[[spot]]
name = "sewing table"
[spot.heater]
name = "panel"
kind = "infrared"
watts = 900
[spot.heater.plug]
kind = "mqtt"
tell = "plug/2/set"
timer = { payload = "true {seconds}" }
[broker]
port = 1883
[pages]
open = false
"""
# what is exchanged, by what, the key of the fault, and words that it must carry
WRONG = [
    ('control = "hysteresis"', 'control = "magic"', "room[study].control",
     "is not one of hysteresis, proportional, predictive"),
    ("watts = 600", 'watts = "600"', "room[study].heater[column].watts", "without quotes"),
    ("watts = 600", "watts = true", "room[study].heater[column].watts", "true is no number"),
    ("watts = 600", "watts = nan", "room[study].heater[column].watts", "nan"),
    ("watts = 600", "watts = 0", "room[study].heater[column].watts", "at least 20"),
    ("watts = 600", "watts = 1.2", "room[study].heater[column].watts", "at least 20"),
    ("watts = 600", "watts = 4001", "room[study].heater[column].watts", "at most 4000"),
    ("watts = 600", "watt = 600", "room[study].heater[column].watt", "Did you mean watts?"),
    ('tell = "plug/2/set"', "tell = 2", "spot[sewing table].heater.plug.tell", "2 is no text"),
    ('tell = "plug/2/set"', 'tell = "plug/#"', "spot[sewing table].heater.plug.tell", "wildcards"),
    ('tell = "plug/2/set"', 'tell = "plug/1/set"', "spot[sewing table].heater.plug.tell", "study/column"),
    ('pointer = "/celsius"', 'pointer = "celsius"', "room[study].sensor.pointer", "RFC 6901"),
    ('  { at = "22:00", celsius = 16 },', '  { at = "22:00", celsius = 40 },', "room[study].usual[1].celsius",
     "at most 35"),
    ('  { at = "22:00", celsius = 16 },', "  7,", "room[study].usual[1]", "7 is no table"),
    ('  { at = "22:00", celsius = 16 },', '  { at = "7:30", celsius = 16 },', "room[study].usual[1].at", "HH:MM"),
    ('  { at = "22:00", celsius = 16 },', '  { at = "22:00", celsius = 16, days = "odd" },',
     "room[study].usual[1].days", "mon-fri"),
    ('  { at = "22:00", celsius = 16 },', '  { at = "07:30", celsius = 16 },', "room[study].usual[1]", "usual[0]"),
    ('asleep = { from = "23:00", to = "06:30" }', 'tick = "10"', "house.tick", "is no duration"),
    ('asleep = { from = "23:00", to = "06:30" }', "tick = 10", "house.tick", "10 is no duration"),
    ('asleep = { from = "23:00", to = "06:30" }', 'timezone = "Mars/Base"', "house.timezone", "time zone"),
    ('asleep = { from = "23:00", to = "06:30" }', 'asleep = { from = "23:00" }', "house.asleep.to", "is missing"),
    ('asleep = { from = "23:00", to = "06:30" }', 'asleep = { begins = "23:00", from = "23:00", to = "06:30" }',
     "house.asleep.begins", "is no known key"),
    ('asleep = { from = "23:00", to = "06:30" }', 'asleep = { from = "23:00", to = "23:00" }', "house.asleep.to",
     "no hour is asleep"),
    ("port = 1883", "port = 65536", "broker.port", "at most 65535"),
    ("port = 1883", "port = 1883.5", "broker.port", "whole number"),
    ("port = 1883", 'password = "hidden"', "broker.password", "Did you mean password_file?"),
    ("port = 1883", 'password_file = "absent"', "broker.password_file", "cannot be found"),
    ("open = false", 'open = "no"', "pages.open", "true or false"),
    ("open = false", 'listen = "0.0.0.0"', "pages.listen", "address with a port"),
    ("open = false", 'listen = "0.0.0.0:0"', "pages.listen", "1 to 65535"),
    ("open = false", 'listen = "0.0.0.0:65536"', "pages.listen", "1 to 65535"),
    ("open = false", "hosts = 3", "pages.hosts", "is no list"),
    ('name = "sewing table"', 'name = "sewing/table"', "spot[sewing/table].name", "no usable name"),
    ('name = "sewing table"', 'name = "study"', "spot[study].name", "already the name"),
    ('circuit = "north"', 'circuit = "south"', "room[study].heater[column].circuit", '"north"'),
    ('circuit = "north"', 'by_hand = "allow"', "room[study].heater[column].by_hand", "allow for 2 h"),
    ('circuit = "north"', 'may_run = ["awake", "always"]', "room[study].heater[column].may_run[1]",
     "is not one of awake, asleep, away"),
    ('circuit = "north"', "sustained_watts = 700", "room[study].heater[column].sustained_watts", "over watts"),
    ("[[circuit]]", "[circuit]", "circuit", "two brackets, [[circuit]]"),
    ("[[room.heater]]", "[room.heater]", "room[study].heater", "two brackets, [[room.heater]]"),
    ("[spot.heater]", "[[spot.heater]]", "spot[sewing table].heater", "one bracket, [spot.heater]"),
    ("[pages]", "[[pages]]", "pages", "one bracket, [pages]"),
    ("[[room.heater]]", 'quiet = { from = "22:00", to = "06:00" }\n[[room.heater]]', "room[study].quiet",
     "[{ key = value }]"),
    ('kind = "mqtt"\n', 'kind = "magic"\n', "spot[sewing table].heater.plug.kind",
     "is not one of mqtt, http, program, homie, added, simulated"),
    ('timer = { payload = "true {seconds}" }\n', 'timer = { payload = "true" }\n',
     "spot[sewing table].heater.plug.timer.payload", "{seconds}"),
]


def load(folder, text):
    file = folder / "house.toml"
    file.write_text(text, encoding="utf-8")
    return load_house(file)


def faults(folder, text):
    with pytest.raises(HouseFileError) as caught:
        load(folder, text)
    return caught.value.faults


def test_a_good_file_loads(tmp_path):
    """A file without faults is a house."""
    house = load(tmp_path, GOOD)
    assert isinstance(house, House)
    assert [key for key, _, _ in house.heaters()] == ["study/column", "sewing table/panel"]


@pytest.mark.parametrize(("old", "new", "key", "words"), WRONG, ids=[f"{key} {new}" for _, new, key, _ in WRONG])
def test_a_fault_is_told_with_its_line_key_and_mend(tmp_path, old, new, key, words):
    """The one thing that is wrong is told once, at its line, as `file:line: key: what. mend`."""
    text = GOOD.replace(old, new, 1)
    assert text != GOOD
    found = faults(tmp_path, text)
    told = [fault for fault in found if fault.key == key]
    assert len(told) == 1
    (fault,) = told
    assert fault.line == GOOD[: GOOD.index(old)].count("\n") + 1
    assert str(fault).startswith(f"{tmp_path / 'house.toml'}:{fault.line}: {key}: ")
    assert words in str(fault)
    assert fault.mend
    assert not re.search(r"Input should|Value error|pydantic|validation", str(fault))


def test_nothing_else_is_told_beside_a_single_fault(tmp_path):
    """One mistake makes one fault, not a heap."""
    for old, new, key, _ in WRONG:
        if "watt = 600" not in new:
            assert [fault.key for fault in faults(tmp_path, GOOD.replace(old, new, 1))] == [key]


def test_a_missing_key_points_at_its_table(tmp_path):
    """What is absent is told at the header of the table that lacks it."""
    found = faults(tmp_path, GOOD.replace("watts = 900\n", ""))
    assert [(fault.line, fault.key) for fault in found] == [(22, "spot[sewing table].heater.watts")]


def test_a_missing_kind_is_told_as_a_missing_key(tmp_path):
    """A plug without a kind is told which kinds there are."""
    (fault,) = faults(tmp_path, GOOD.replace('kind = "mqtt"\n', ""))
    assert (fault.line, fault.key) == (26, "spot[sewing table].heater.plug.kind")
    assert "mqtt, http, program, homie, added, simulated" in fault.mend


def test_every_fault_is_told_in_one_go(tmp_path):
    """Misspelt values, unknown keys and clashes between tables all appear, in the order of their lines."""
    text = (
        GOOD.replace('"hysteresis"', '"magic"')
        .replace('circuit = "north"', 'circuit = "south"')
        .replace("port = 1883", "prt = 1883")
        .replace('name = "sewing table"', 'name = "study"')
    )
    found = faults(tmp_path, text)
    assert [(fault.line, fault.key) for fault in found] == [
        (10, "room[study].control"), (18, "room[study].heater[column].circuit"), (21, "spot[study].name"),
        (31, "broker.prt"),
    ]
    with pytest.raises(HouseFileError) as caught:
        load(tmp_path, text)
    assert str(caught.value).splitlines() == [str(fault) for fault in found]


def test_leaving_out_a_faulty_heater_keeps_the_lines_of_the_others_right(tmp_path):
    """A clash after a faulty heater is told at the heater that clashes."""
    second = '[[room.heater]]\nname = "panel"\nwatts = 20\ncircuit = "nowhere"\nplug = { kind = "simulated" }\n[[spot]]'
    text = GOOD.replace("watts = 600", "watts = -1").replace("[[spot]]", second)
    found = faults(tmp_path, text)
    assert [(fault.line, fault.key) for fault in found] == [
        (17, "room[study].heater[column].watts"), (23, "room[study].heater[panel].circuit"),
    ]


def test_a_value_in_an_unknown_key_is_never_shown(tmp_path):
    """A secret put in the wrong place does not reach a log."""
    (fault,) = faults(tmp_path, GOOD.replace("port = 1883", 'passwd = "hunter"'))
    assert "hunter" not in str(fault)


def test_names_inside_the_program_are_no_keys(tmp_path):
    """The program's own plural `rooms` is not another word for [[room]]."""
    found = faults(tmp_path, GOOD.replace("[[room]]", "[[rooms]]").replace("[[room.heater]]", "[[rooms.heater]]"))
    assert [(fault.line, fault.key, fault.mend) for fault in found] == [(7, "rooms", "Did you mean room?")]


@pytest.fixture
def secret(tmp_path):
    file = tmp_path / "secret"
    file.write_text("word\n")
    file.chmod(0o600)
    return file


def test_a_relative_file_counts_from_the_folder_of_the_house_file(tmp_path, secret):
    """A loaded house names its files from the root, wherever the program runs."""
    house = load(tmp_path, GOOD.replace("port = 1883", 'password_file = "secret"'))
    assert house.broker.password_file == str(secret)
    tls = GOOD.replace("open = false", 'tls = { cert = "secret", key = "secret" }')
    assert load(tmp_path, tls).pages.tls.key == str(secret)


@pytest.mark.parametrize("mode", [0o604, 0o644, 0o602])
def test_a_secret_open_to_everyone_is_refused(tmp_path, secret, mode):
    """A password that any user of the machine may read or write is a fault, mended by chmod."""
    secret.chmod(mode)
    (fault,) = faults(tmp_path, GOOD.replace("port = 1883", 'password_file = "secret"'))
    assert (fault.line, fault.key) == (31, "broker.password_file")
    assert f"chmod o-rwx {secret}" in fault.mend  # leaves the daemon's own way to it, be it owner or group


def test_a_certificate_may_be_open_to_everyone(tmp_path, secret):
    """Only secrets are kept from others."""
    secret.chmod(0o644)
    assert load(tmp_path, GOOD.replace("port = 1883", 'tls = { ca = "secret" }'))


@pytest.mark.parametrize("key", ["cert", "key"])
def test_each_tls_file_must_be_there(tmp_path, secret, key):
    """An absent certificate or key is told at its own key."""
    other = {"cert": "key", "key": "cert"}[key]
    text = GOOD.replace("open = false", f'tls = {{ {key} = "absent", {other} = "secret" }}')
    assert [fault.key for fault in faults(tmp_path, text)] == [f"pages.tls.{key}"]


def test_an_empty_secret_and_a_folder_are_refused(tmp_path, secret):
    """A secret file without content, or a folder in its place, is a fault."""
    secret.write_text("")
    (tmp_path / "folder").mkdir()
    text = GOOD.replace("port = 1883", 'password_file = "secret"').replace(
        "open = false", 'owner_passphrase_file = "folder"')
    told = {fault.key: fault.what for fault in faults(tmp_path, text)}
    assert "is empty" in told["broker.password_file"]
    assert "no plain file" in told["pages.owner_passphrase_file"]


@pytest.mark.parametrize("raw", [b"\nword\n", b"  \n", b"\xff\xfe\n"])
def test_a_secret_whose_first_line_holds_nothing_is_refused(tmp_path, secret, raw):
    """The first line is the secret; a blank or unreadable one is a fault."""
    secret.write_bytes(raw)
    (fault,) = faults(tmp_path, GOOD.replace("port = 1883", 'password_file = "secret"'))
    assert "first line" in fault.what


def test_the_first_line_is_the_secret(tmp_path, secret):
    """Line ends are no part of a secret, spaces within it are, and further lines are not read."""
    secret.write_bytes(b"a word \r\nanother\n")
    assert first_line(secret) == "a word "


def test_a_name_no_file_can_have_is_told(tmp_path):
    """A NUL in a file's name is a fault, not a crash."""
    (fault,) = faults(tmp_path, GOOD.replace("port = 1883", 'password_file = "a\\u0000b"'))
    assert fault.key == "broker.password_file"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_secret_that_may_not_be_read_is_told(tmp_path, secret):
    """A secret of another user is a fault."""
    secret.chmod(0)
    (fault,) = faults(tmp_path, GOOD.replace("port = 1883", 'password_file = "secret"'))
    assert "may not be read" in fault.what


def test_public_names():
    """What others import stays."""
    assert set(house_file.__all__) >= {"load_house", "HouseFileError", "Fault"}
