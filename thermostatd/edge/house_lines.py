"""Which line of a TOML text each key stands on.

Rules: the text is well formed (tomllib took it); the scanner only follows structure, never values.
A table's line is its header, a value's line is its key, an array item's line is where the item begins.
`Lines.of` answers for any path: what is not in the text has the line of the nearest table that holds it.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\n#]*")
_ESCAPE = re.compile(r"\\(u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8}|.)", re.S)
_SIMPLE = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


def line_count(text: str) -> int:
    """Lines in a text; at least 1."""
    return max(1, text.count("\n") + (not text.endswith("\n")))


class Lines:
    """The line, counted from 1, of every key path of a text."""

    def __init__(self, text: str) -> None:
        scanner = _Scanner(text.replace("\r\n", "\n"))
        scanner.run()
        self.count = line_count(text)
        self._lines = scanner.lines

    def of(self, path: Path) -> int:
        """The line of a key path, or of its nearest holder (1 where there is none)."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._lines:
                return self._lines[path[:length]]
        return 1


class _Scanner:
    """Walks a text once and notes where each path is first met."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self._lined = 0
        self.lines: dict[Path, int] = {}
        self._items: dict[Path, int] = {}

    def run(self) -> None:
        table: Path = ()
        while self._skip():
            if self.text.startswith("[", self.at):
                table = self._header()
            else:
                self._pair(table)

    def _peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def _here(self) -> int:
        self.line += self.text.count("\n", self._lined, self.at)
        self._lined = self.at
        return self.line

    def _note(self, path: Path, line: int) -> None:
        self.lines.setdefault(path, line)

    def _skip(self) -> bool:
        """Passes blanks, line ends and comments; says whether anything follows."""
        while self.at < len(self.text):
            if self._peek() == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif self._peek() in " \t\n\r":
                self.at += 1
            else:
                return True
        return False

    def _header(self) -> Path:
        line, many = self._here(), self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        self.at += 2 if many else 1
        path = (*self._inside(keys[:-1], (), line), keys[-1])
        if many:
            self._note(path, line)
            index = self._items[path] = self._items.get(path, -1) + 1
            path += (index,)
        self.lines[path] = line
        return path

    def _inside(self, keys: list[str], start: Path, line: int) -> Path:
        """The path of a dotted key, stepping into the newest item of each array of tables on the way."""
        path = start
        for key in keys:
            path += (key,)
            self._note(path, line)
            if path in self._items:
                path += (self._items[path],)
        return path

    def _pair(self, table: Path) -> None:
        line = self._here()
        keys = self._keys()
        path = (*self._inside(keys[:-1], table, line), keys[-1])
        self._note(path, line)
        self.at += 1
        self._value(path)

    def _keys(self) -> list[str]:
        """A dotted key up to the sign that ends it (= or ]), which stays."""
        keys = []
        while True:
            self._skip()
            keys.append(self._key())
            self._skip()
            if self._peek() != ".":
                return keys
            self.at += 1

    def _key(self) -> str:
        if self._peek() in ("'", '"'):
            start = self.at
            self._string()
            inner = self.text[start + 1 : self.at - 1]
            return inner if self.text[start] == "'" else _ESCAPE.sub(_unescaped, inner)
        found = _BARE.match(self.text, self.at)
        if found is None:
            raise ValueError(f"no key on line {self._here()}")
        self.at = found.end()
        return found[0]

    def _value(self, path: Path) -> None:
        self._skip()
        sign = self._peek()
        if sign == "[":
            self._array(path)
        elif sign == "{":
            self._inline(path)
        elif sign in ("'", '"'):
            self._string()
        else:
            found = _SCALAR.match(self.text, self.at)
            self.at = found.end() if found else self.at

    def _array(self, path: Path) -> None:
        self.at += 1
        index = 0
        while self._skip() and self._peek() != "]":
            self._note((*path, index), self._here())
            self._value((*path, index))
            index += 1
            self._comma()
        self.at += 1

    def _inline(self, path: Path) -> None:
        self.at += 1
        while self._skip() and self._peek() != "}":
            self._pair(path)
            self._comma()
        self.at += 1

    def _comma(self) -> None:
        if self._skip() and self._peek() == ",":
            self.at += 1

    def _string(self) -> None:
        quote = self._peek()
        if self.text.startswith(quote * 3, self.at):
            self._long_string(quote)
            return
        self.at += 1
        while self._peek() not in (quote, ""):
            self.at += 2 if quote == '"' and self._peek() == "\\" else 1
        self.at += 1

    def _long_string(self, quote: str) -> None:
        self.at += 3
        while self.at < len(self.text) and not self.text.startswith(quote * 3, self.at):
            self.at += 2 if quote == '"' and self._peek() == "\\" else 1
        self.at += 3
        while self._peek() == quote:
            self.at += 1


def _unescaped(found: re.Match[str]) -> str:
    sign = found[1]
    return _SIMPLE[sign] if sign in _SIMPLE else chr(int(sign[1:], 16))
