"""From a file to a TOML table: what can go wrong before a single key is looked at."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from typing import Any

from thermostatd.edge.house_faults import Fault, HouseFileError
from thermostatd.edge.house_lines import line_count

MOST_BYTES = 1024 * 1024
_PLACE = re.compile(r" \(at line (\d+), column (\d+)\)$")
_END = " (at end of document)"
_COMMA = re.compile(r"[=\[,]\s*([+-]?\d+),(\d+)(?=\s|[]},#]|$)")
_TIME = re.compile(r"[=\[,]\s*(\d{1,2}:\d{2})(?=\s|[]},#]|$)")
_NEXT_KEY = re.compile(r"\s*[\w\"'-]+\s*=")
_ONE_LINE = "Write a table { … } on one line, with } at its end and a comma between its keys"
_STRAIGHT = 'Write straight quotes, "…", in place of the curly ones'
_CURLY = "“”„‟«»‘’‚‛"
_MENDS = (
    (("overwrite", "declare", "mutate", "redefine", "Duplicate"),
     "Write each key and table once; another room, heater or spot begins with two brackets: [[room]]"),
    (("Unclosed", "Unterminated", "Expected ']'", "closing"), "Close the bracket or the quotes"),
    (("Illegal character", "control"), "Close the quotes on the same line, and take out odd characters"),
    (("Invalid value", "Invalid date"),
     "Write text in quotes, numbers plain, and true or false in small letters"),
    (("Unescaped", "escape"), "Write a backslash twice, or the text in single quotes"),
)
_MEND = "Write it as key = value, with text in quotes, or as a [table]"


def read_text(path: str | os.PathLike[str]) -> str:
    """The text of a house file. HouseFileError where it is absent, unreadable, too long or not UTF-8."""
    name = os.fsdecode(path)
    try:
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise _whole(name, "this is a folder", "Name the house file in it")
        if not stat.S_ISREG(mode):
            raise _whole(name, "this is no plain file", "Name a plain file")
        with open(path, "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _whole(name, "the file does not exist", "Correct the name, or write the file") from None
    except PermissionError:
        raise _whole(name, "the file may not be read by this user", "Change its owner or mode") from None
    except (OSError, ValueError) as fault:
        raise _whole(name, f"the file cannot be read ({fault})", "Correct the name") from None
    return _decoded(name, raw)


def _decoded(name: str, raw: bytes) -> str:
    if len(raw) > MOST_BYTES:
        raise _whole(name, "the file is over 1 MiB", "A house needs far less: name the right file")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = 1 + raw.count(b"\n", 0, fault.start)
        raise _whole(name, "the file is not UTF-8 text", "Save it as UTF-8", line) from None
    if not text.strip():
        raise _whole(name, "the file is empty", "Describe a house: begin with a [[room]]")
    return text


def parsed(name: str, text: str) -> dict[str, Any]:
    """The table of a TOML text. HouseFileError names the line that cannot be read."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise _syntax(name, text, str(fault)) from None
    except RecursionError:
        raise _whole(name, "lists or tables are nested too deep", "Take out the many brackets") from None
    except ValueError as fault:
        raise _whole(name, f"a value cannot be read ({fault})", "Take out the overlong number") from None


def _syntax(name: str, text: str, said: str) -> HouseFileError:
    place = _PLACE.search(said)
    line = int(place[1]) if place else line_count(text)
    where = f", at column {place[2]}" if place else ", at the end of the file"
    said = _PLACE.sub("", said).removesuffix(_END)
    mend = _mend(said, text.split("\n")[line - 1] if place else "", int(place[2]) - 1 if place else 0)
    said = "".join(sign if sign.isprintable() else " " for sign in said)[:200]
    return _whole(name, f"the line cannot be read as TOML ({said}{where})", mend, min(line, line_count(text)))


def _mend(said: str, line: str, column: int) -> str:
    """What to write instead, by the parser's complaint and what stands in the line there."""
    if line[column : column + 1] in tuple(_CURLY) or ("Illegal" in said and any(sign in _CURLY for sign in line)):
        return _STRAIGHT
    comma = next((found for found in _COMMA.finditer(line) if found.start() < column), None)
    if comma is not None:
        return f"Write the number with a point: {comma[1]}.{comma[2]}"
    at = next((found for found in _TIME.finditer(line) if found.start() < column), None)
    if at is not None:
        return f'Write the time in quotes: "{at[1]}"'
    if "Unclosed inline table" in said and _NEXT_KEY.match(line, column):
        return "Put a comma before the next key"
    if line.count("{", 0, column) > line.count("}", 0, column) and not line[column:].strip():
        return _ONE_LINE
    return next((mend for words, mend in _MENDS if any(word in said for word in words)), _MEND)


def _whole(name: str, what: str, mend: str, line: int = 1) -> HouseFileError:
    return HouseFileError([Fault(name, line, "", what, mend)])
