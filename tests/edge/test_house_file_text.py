"""What can be wrong with the file itself, before any key."""

import os

import pytest

from thermostatd.edge.house_file import HouseFileError, load_house

ROOM = '[[room]]\nname = "study"\nsensor = { topic = "t" }\n'


def fault_of(path):
    with pytest.raises(HouseFileError) as caught:
        load_house(path)
    (fault,) = caught.value.faults
    assert str(path) in str(fault)
    assert fault.mend
    return fault


def test_an_absent_file(tmp_path):
    """A file that is not there is told so."""
    assert "does not exist" in fault_of(tmp_path / "house.toml").what


def test_a_folder(tmp_path):
    """A folder is told so."""
    assert "is a folder" in fault_of(tmp_path).what


def test_a_pipe(tmp_path):
    """A pipe is refused at once, never waited for."""
    os.mkfifo(tmp_path / "pipe")
    assert "no plain file" in fault_of(tmp_path / "pipe").what


def test_a_name_no_file_can_have():
    """A NUL in the name is a fault, not a crash."""
    assert "cannot be read" in fault_of("a\0b").what


@pytest.mark.parametrize("raw", [b"", b"\n \n", b"\xef\xbb\xbf"])
def test_an_empty_file(tmp_path, raw):
    """A file without a word is told so."""
    file = tmp_path / "house.toml"
    file.write_bytes(raw)
    assert "is empty" in fault_of(file).what


def test_a_file_of_comments_describes_nothing(tmp_path):
    """A file of comments alone lacks a room."""
    file = tmp_path / "house.toml"
    file.write_text("# nothing yet\n")
    assert "[[room]]" in fault_of(file).mend


def test_a_file_over_one_mebibyte(tmp_path):
    """A file over 1 MiB is refused; one of exactly 1 MiB is read."""
    file = tmp_path / "house.toml"
    file.write_text(ROOM + "#" * (1024 * 1024 - len(ROOM)))
    assert load_house(file).room("study")
    file.write_text(ROOM + "#" * (1024 * 1024 - len(ROOM) + 1))
    assert "over 1 MiB" in fault_of(file).what


def test_a_file_that_is_not_utf8(tmp_path):
    """Another encoding is told, with the line of the first odd byte."""
    file = tmp_path / "house.toml"
    file.write_bytes(ROOM.encode() + '# kjøkken'.encode("latin-1"))
    fault = fault_of(file)
    assert "not UTF-8" in fault.what
    assert fault.line == 4


@pytest.mark.parametrize(
    ("text", "line", "mend"),
    [
        (ROOM + 'control = "magic\n', 4, "quotes"),
        (ROOM + "control = magic\n", 4, "Write text in quotes"),
        (ROOM + "control\n", 4, "key = value"),
        (ROOM + 'name = "again"\n', 4, "once"),
        (ROOM + "[house]\n[house]\n", 5, "once"),
        (ROOM + "usual = [\n", 4, ""),
        (ROOM + 'control = "a\\qb"\n', 4, "backslash"),
        ("[house\n", 1, "bracket"),
        ("a = " + "[" * 100000, 1, "brackets"),
        ("a = " + "1" * 5000, 1, "number"),
    ],
)
def test_a_line_that_is_no_toml(tmp_path, text, line, mend):
    """A mistake of grammar is told at its line, with a mend."""
    file = tmp_path / "house.toml"
    file.write_text(text)
    fault = fault_of(file)
    assert fault.line == line
    assert mend in fault.mend


def test_a_byte_order_mark_and_carriage_returns_are_taken(tmp_path):
    """Files from other editors load, and their lines count the same."""
    file = tmp_path / "house.toml"
    file.write_bytes(b"\xef\xbb\xbf" + ROOM.replace("\n", "\r\n").encode())
    assert load_house(file).room("study")
    file.write_bytes((ROOM + "control = 1\n").replace("\n", "\r\n").encode())
    assert fault_of(file).line == 4


def test_a_path_may_be_text_or_bytes_or_a_path(tmp_path, monkeypatch):
    """Any way of naming a file works, a bare name in the present folder too."""
    (tmp_path / "house.toml").write_text(ROOM)
    monkeypatch.chdir(tmp_path)
    for name in ("house.toml", tmp_path / "house.toml", str(tmp_path / "house.toml")):
        assert load_house(name).room("study")


@pytest.mark.parametrize(
    ("text", "line", "mend"),
    [
        ("celsius = 20,5\n", 4, "with a point: 20.5"),
        ("celsius = -2,25 # so\n", 4, "with a point: -2.25"),
        ('usual = [{ at = "07:00", celsius = 20,5 }]\n', 4, "with a point: 20.5"),
        ('usual = [\n{ celsius = 20,5, at = "07:00" }]\n', 5, "with a point: 20.5"),
        ("control = “magic”\n", 4, 'straight quotes, "…"'),
        ("control = „magic“\n", 4, 'straight quotes, "…"'),
        ('control = "magic”\n', 4, 'straight quotes, "…"'),
        ("control = ‘magic’\n", 4, 'straight quotes, "…"'),
        ("“control” = 3\n", 4, 'straight quotes, "…"'),
    ],
)
def test_a_decimal_comma_and_curly_quotes_are_named(tmp_path, text, line, mend):
    """What a phone's keyboard or a text program writes is named, with what to write in its place."""
    file = tmp_path / "house.toml"
    file.write_text(ROOM + text)
    fault = fault_of(file)
    assert fault.line == line
    assert mend in fault.mend


@pytest.mark.parametrize(
    ("text", "line", "mend"),
    [
        ('usual = [{ celsius = 20, at = 22:00 }]\n', 4, 'time in quotes: "22:00"'),
        ('sensor = { topic = "t" pointer = "/a" }\n', 4, "comma before the next key"),
        ('usual = [\n{ at = "07:00" celsius = 20 }]\n', 5, "comma before the next key"),
        ('household = { lowest = 15,\n  highest = 20 }\n', 4, "on one line, with } at its end"),
        ('household = { lowest = 15\nfrost = 1\n', 4, "on one line, with } at its end"),
        ('usual = [{ at = "07:00" }\n', 4, ""),
    ],
)
def test_what_goes_wrong_in_a_table_on_one_line_is_named(tmp_path, text, line, mend):
    """A time without quotes, a comma too few, and a table over several lines each have a mend of their own."""
    file = tmp_path / "house.toml"
    file.write_text(ROOM.replace('sensor = { topic = "t" }', "control = 1") + text)
    fault = fault_of(file)
    assert fault.line == line
    assert mend in fault.mend


def test_a_decimal_comma_in_quotes_is_named(tmp_path):
    """Quotes hide it from the parser, not from the mend."""
    file = tmp_path / "house.toml"
    file.write_text(ROOM + 'usual = [{ days = "daily", at = "07:00", celsius = "20,5" }]\n')
    assert "without quotes and with a point: 20.5" in fault_of(file).mend


def test_commas_and_curly_signs_that_are_no_mistake_are_not_named(tmp_path):
    """A fault beside them keeps its own mend."""
    file = tmp_path / "house.toml"
    file.write_text(ROOM + 'usual = [{ at = "07:00“", celsius 20 }] # “so”, 20,5\n')
    assert "key = value" in fault_of(file).mend
