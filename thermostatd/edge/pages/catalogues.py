"""Catalogues of other languages: `web/locale/<language>.po`, read when the first visitor wants one.

Rules: the texts in the code are English and are the keys; a text without a translation stays English. The files are
gettext's own format, so that any editor for it will do; the standard library's gettext does the looking up.
"""

from __future__ import annotations

import ast
import gettext
import re
import struct
from io import BytesIO
from pathlib import Path

from thermostatd.edge.pages.recognised import Recognised

ENGLISH = "en"
_LINE = re.compile(r'^(?:(msgid_plural|msgid|msgstr(?:\[(\d)\])?)\s+)?(".*")$')


class Catalogues:
    """Every language that the pages speak."""

    def __init__(self, folder: Path) -> None:
        self._paths = {path.stem: path for path in sorted(folder.glob("*.po"))}
        self._read: dict[str, gettext.NullTranslations] = {ENGLISH: gettext.NullTranslations()}
        self._recognised: dict[str, Recognised] = {ENGLISH: Recognised(())}

    @property
    def languages(self) -> tuple[str, ...]:
        """Their codes, English first."""
        return (ENGLISH, *self._paths)

    def of(self, language: str) -> gettext.NullTranslations:
        """One language's catalogue."""
        if language not in self._read:
            entries = read_po(self._paths[language].read_text("utf-8"))
            self._read[language] = gettext.GNUTranslations(BytesIO(packed(entries)))
            self._recognised[language] = Recognised(one for one, many in entries if not many)
        return self._read[language]

    def recognised(self, language: str) -> Recognised:
        """What finds the template of a sentence that was kept as text."""
        self.of(language)
        return self._recognised[language]


def read_po(text: str) -> dict[tuple[str, str], list[str]]:
    """(msgid, msgid_plural or "") and its translations. ValueError names the line that is none."""
    found: dict[tuple[str, str], list[str]] = {}
    entry: dict[str, str] = {}
    field = ""
    for number, line in enumerate([*text.splitlines(), 'msgid ""'], 1):
        if not line.strip() or line.startswith("#"):
            continue
        match = _LINE.match(line.strip())
        if match is None:
            raise ValueError(f"line {number} of the catalogue is neither a text nor a comment: {line[:60]}")
        if match[1] == "msgid":
            _take(found, entry)
            entry = {}
        field = match[1] or field
        entry[field] = entry.get(field, "") + str(ast.literal_eval(match[3]))
    return found


def _take(found: dict[tuple[str, str], list[str]], entry: dict[str, str]) -> None:
    if "msgid" in entry:
        told = [entry[key] for key in sorted(entry) if key.startswith("msgstr")]
        found[entry["msgid"], entry.get("msgid_plural", "")] = told


def packed(entries: dict[tuple[str, str], list[str]]) -> bytes:
    """The entries in the binary form that the standard library reads (GNU gettext's MO file)."""
    pairs = sorted(
        ("\0".join(part for part in key if part) if key[1] else key[0], "\0".join(told))
        for key, told in entries.items()
        if all(told)
    )
    keys = [key.encode() for key, _ in pairs]
    values = [value.encode() for _, value in pairs]
    count, blob = len(pairs), b""
    tables: list[bytes] = []
    at = 28 + 16 * count
    for texts in (keys, values):
        rows = b""
        for one in texts:
            rows += struct.pack("<II", len(one), at + len(blob))
            blob += one + b"\0"
        tables.append(rows)
    head = struct.pack("<7I", 0x950412DE, 0, count, 28, 28 + 8 * count, 0, 28 + 16 * count)
    return head + tables[0] + tables[1] + blob
