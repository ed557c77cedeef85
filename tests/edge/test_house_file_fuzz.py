"""Reading is total: whatever is in the file, the answer is a house or a list of faults within the file."""

import copy
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from thermostatd.core.house import House
from thermostatd.edge.house_file import HouseFileError, inspect_house, load_house
from thermostatd.edge.house_lines import line_count

CONFIG = Path(__file__).parents[2] / "config"
TEXT = (CONFIG / "house.toml").read_text(encoding="utf-8")
ONCE = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
PIECES = st.sampled_from([
    "", "[", "]", "{", "}", '"', "'", "=", "\n", "#", "[[room]]\n", "[house]\n", "x = 1\n", "nan", "inf", "-1",
    "true", "1e999", "[]", "{}", '""', '"\\u0000"', "\0", "\\", "é", "\r", "'''", '"""', "9" * 400, "room = 3\n",
    "1979-05-27", "{ kind = 3 }",
])
VALUES = st.sampled_from([
    None, True, -1, 0, 10**400, 1e308, float("nan"), float("inf"), "", "x", "\0", "mqtt", [], [[]], [{}], {},
    {"kind": 1}, {"kind": []}, {"name": "study"}, "2026-01-12", "a" * 5000, "awake", ["away"],
])


def loaded(file):
    try:
        return load_house(file), None
    except HouseFileError as refused:
        return None, refused


def total(file, text):
    house, refused = loaded(file)
    assert (refused is None) == isinstance(house, House)
    told = refused.faults if refused else inspect_house(file).warnings
    assert told or not refused
    assert all(1 <= fault.line <= line_count(text) for fault in told)
    assert all(fault.what and fault.mend and "\n" not in str(fault) for fault in told)
    assert refused is None or len(str(refused).splitlines()) == len(told)


@ONCE
@given(st.lists(st.tuples(st.integers(0, len(TEXT)), st.integers(0, 40), PIECES), min_size=1, max_size=3))
def test_a_torn_file_gives_faults_within_it_and_never_another_error(tmp_path, tears):
    """Pieces cut out of and put into a good file never crash the reader."""
    text = TEXT
    for at, length, piece in tears:
        text = text[:at] + piece + text[at + length :]
    file = tmp_path / "house.toml"
    file.write_bytes(text.encode("utf-8"))
    total(file, text)


@ONCE
@given(st.binary(max_size=300))
def test_any_bytes_give_faults_and_never_another_error(tmp_path, raw):
    """Bytes that were never meant as a house file do not crash the reader."""
    file = tmp_path / "house.toml"
    file.write_bytes(raw)
    total(file, raw.decode("utf-8", errors="replace").replace("\r\n", "\n"))


def every_path(value, path=()):
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from every_path(inner, (*path, key))


def as_toml(value):
    """One line of TOML for a value; the writer is the test's own, the reader is tomllib."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_toml(str(key))} = {as_toml(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(as_toml(inner) for inner in value) + "]"
    if isinstance(value, str):
        signs = (f"\\u{ord(sign):04x}" if sign in '"\\' or not sign.isprintable() else sign for sign in value)
        return '"' + "".join(signs) + '"'
    return str(value).lower() if isinstance(value, bool) else repr(value)


PATHS = [path for path in every_path(tomllib.loads(TEXT)) if path]


@ONCE
@given(st.lists(st.tuples(st.sampled_from(PATHS), VALUES), min_size=1, max_size=4))
def test_any_value_at_any_key_gives_faults_and_never_another_error(tmp_path, changes):
    """A value of any kind at any key, or a key taken out, is a house or a list of faults."""
    data = copy.deepcopy(tomllib.loads(TEXT))
    for path, value in changes:
        here = data
        for part in path[:-1]:
            inside = here.get(part) if isinstance(here, dict) else here[part] if part in range(len(here)) else None
            here = inside if isinstance(inside, dict | list) else {}
        if value is None and isinstance(here, dict):
            here.pop(path[-1], None)
        elif isinstance(here, dict) and isinstance(path[-1], str):
            here[path[-1]] = {} if value is None else copy.deepcopy(value)
    text = "\n".join(f"{key} = {as_toml(value)}" for key, value in data.items()) + "\n"
    file = tmp_path / "house.toml"
    file.write_text(text, encoding="utf-8")
    total(file, text)


@pytest.mark.parametrize("path", PATHS, ids=str)
def test_a_key_taken_out_is_fine_or_told(tmp_path, path):
    """Each key of the full example may be taken out: the rest loads, or what is missing is told."""
    data = copy.deepcopy(tomllib.loads(TEXT))
    here = data
    for part in path[:-1]:
        here = here[part]
    del here[path[-1]]
    text = "\n".join(f"{key} = {as_toml(value)}" for key, value in data.items()) + "\n"
    (tmp_path / "house.toml").write_text(text, encoding="utf-8")
    total(tmp_path / "house.toml", text)
