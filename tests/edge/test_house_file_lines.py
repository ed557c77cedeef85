"""The scanner finds each key's line, held against tomllib, which reads the same text independently."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermostatd.edge.house_lines import Lines, line_count

CONFIG = Path(__file__).parents[2] / "config"
TRICKY = r'''
# a comment with [brackets] = "and" {braces}
[house]
"quoted key" = 1001
'literal.key' = 1002
"esc\u0041ped \"key\"" = 1003
dotted.inner . "deep one" = 1004

[[room]]   # [[not]] this
name = "] } , # = [[room]]"
after = 1005
long = """
[house]
x = 1 \""" still
"quotes" at the end """"
after_long = 1006
raw = \'\'\'
[[room]] \\ '' it's
\'\'\'
after_raw = 1007
lists = [ 1008, # one
  1009,
  [ 1010,
    1011 ], { a = 1012, b = { c = 1013 }, d.e = 1014 },
  "a ] in text", 1015,
]
sign = +1_016
when = 1979-05-27 07:32:00
[[room.heater]]
watts = 1017
[room.heater.plug]
tell = { a = 1018, "b c" = [ { d = 1019 }, { d = 1020 } ] }
[[room.heater]]
watts = 1021
[[room]]
after = 1022
[[room.heater]]
watts = 1023
[room.household]
lowest = 1024
[ deep . "er" ]
one = 1025
'''.replace(r"\'", "'")


def leaves(value, path=()):
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    if not isinstance(value, dict | list):
        yield path, value
    for key, inner in items:
        yield from leaves(inner, (*path, key))


def test_every_number_is_found_on_its_line():
    """Quoted and dotted keys, inline tables, arrays over lines, comments and strings with brackets are followed."""
    lines, text = Lines(TRICKY), TRICKY.splitlines()
    numbers = {path: value for path, value in leaves(tomllib.loads(TRICKY)) if isinstance(value, int)}
    assert sorted(numbers.values()) == list(range(1001, 1026))
    for path, value in numbers.items():
        assert str(value) in text[lines.of(path) - 1].replace("_", ""), path


def test_a_table_is_found_at_its_header():
    """A table, and a key it lacks, have the line of its own header."""
    lines, text = Lines(TRICKY), TRICKY.splitlines()
    assert text[lines.of(("room", 0)) - 1].startswith("[[room]]   #")
    assert lines.of(("room", 1, "heater", 0, "missing")) == text.index("watts = 1023")
    assert lines.of(("room", 0, "heater", 0, "plug", "kind")) == text.index("[room.heater.plug]") + 1
    assert lines.of(("nowhere", 3)) == 1


@pytest.mark.parametrize("file", sorted(CONFIG.glob("*.toml")), ids=lambda file: file.name)
def test_every_key_of_the_examples_is_found(file):
    """In each example every key that tomllib reads stands on the line that is given for it."""
    text = file.read_text(encoding="utf-8")
    lines, rows = Lines(text), text.splitlines()
    for path, _ in leaves(tomllib.loads(text)):
        key = next(part for part in reversed(path) if isinstance(part, str))
        if isinstance(path[-1], str):
            assert key in rows[lines.of(path) - 1], path


KEYS = st.sampled_from(["a", "b-1", "c_2", '"q [ ] = #"', "'l.i.t'", '"esc \\" \\u00e9"', '""'])
SPACE = st.sampled_from(["", " ", "\t "])
BREAK = st.sampled_from(["", "\n", " # ] } , [x]\n", "\n\n  "])
TEXTS = st.sampled_from(['"]#}"', "'[\\'", '"""\n# [a]\n= \\""" ]\n"""', "'''\n[[b]]\n''' "])
SCALARS = TEXTS | st.sampled_from(["1", "-2.5e3", "true", "1979-05-27T07:32:00Z", "07:32:00", "inf"])


def _array(inner):
    return st.lists(st.tuples(BREAK, inner, BREAK), max_size=3).map(
        lambda items: "[" + ",".join("".join(item) for item in items) + "]")


def _inline(inner):
    pair = st.tuples(SPACE, KEYS, SPACE, inner, SPACE)
    return st.lists(pair, max_size=3, unique_by=lambda item: item[1]).map(
        lambda items: "{" + ",".join(f"{a}{k}{b}= {v}{c}" for a, k, b, v, c in items) + "}")


VALUES = st.recursive(SCALARS, lambda inner: _array(inner) | _inline(inner), max_leaves=6)


@given(st.lists(st.tuples(BREAK, KEYS, VALUES, st.sampled_from(["", " # [c] = 1"])), max_size=5))
def test_the_scanner_agrees_with_tomllib_on_any_array_of_tables(tables):
    """Whatever stands in the values, each table's header and key keep their line."""
    text, expected = "", {}
    for index, (gap, key, value, comment) in enumerate(tables):
        text += gap + ("\n" if gap and not gap.endswith("\n") else "") + "[[t]]\n"
        header = text.count("\n")
        text += f"{key} = {value}{comment}\n"
        name = next(iter(tomllib.loads(f"{key} = 1")))
        expected |= {("t", index): header, ("t", index, name): header + 1}
    data, lines = tomllib.loads(text), Lines(text)
    assert {path: lines.of(path) for path in expected} == expected
    assert all(1 <= lines.of(path) <= line_count(text) for path, _ in leaves(data))
    assert len(data.get("t", [])) == len(tables)
