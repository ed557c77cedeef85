"""The owner's house file, read. The file is never written by this program.

Rules: every fault is told at once, with its line and a mend; a house that loads has no fault left.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path as FilePath

from pydantic import ValidationError

from thermostatd.core.house import House
from thermostatd.core.house.cautions import cautions
from thermostatd.core.house.clashes import clashes
from thermostatd.core.house.remarks import Danger, Remark
from thermostatd.edge.house_added import added_findings, letter_findings
from thermostatd.edge.house_faults import Fault, Finding, HouseFileError, findings_of
from thermostatd.edge.house_files import file_findings, with_whole_names
from thermostatd.edge.house_keys import readable
from thermostatd.edge.house_lines import Lines
from thermostatd.edge.house_salvage import clashes_besides
from thermostatd.edge.house_text import parsed, read_text

__all__ = ["Fault", "HouseFileError", "Inspection", "inspect_house", "load_house"]


@dataclass(frozen=True, slots=True)
class Inspection:
    """A house file looked through: its faults, its warnings, and the house where there is no fault."""

    faults: tuple[Fault, ...]
    warnings: tuple[Fault, ...] = ()
    house: House | None = None
    text: str = ""


def load_house(path: str | os.PathLike[str]) -> House:
    """The house that a file describes. HouseFileError lists every fault with file, line, key and mend."""
    seen = inspect_house(path)
    if seen.house is None:
        raise HouseFileError(seen.faults)
    return seen.house


def inspect_house(
    path: str | os.PathLike[str], *, text_of: str | os.PathLike[str] | None = None
) -> Inspection:
    """Looks a house file through. Never raises for what is in the file or for its absence.

    `text_of` is a file that holds the text in its place.
    """
    try:
        return _Reader(path, text_of or path).inspection()
    except HouseFileError as error:
        return Inspection(error.faults)


class _Reader:
    """One file, its text, its lines and its table."""

    def __init__(self, path: str | os.PathLike[str], text_of: str | os.PathLike[str]) -> None:
        self.name = os.fsdecode(path)
        self.folder = FilePath(self.name).parent
        self.text = read_text(text_of)
        self.data = parsed(self.name, self.text)
        self.lines = Lines(self.text)

    def inspection(self) -> Inspection:
        try:
            house = House.model_validate(self.data, by_alias=True, by_name=False)
        except ValidationError as error:
            return Inspection(self._faults(self._misread(error)))
        wrong: list[Finding | Remark] = [*clashes(house), *file_findings(house, self.folder), *added_findings(house)]
        warnings = self._faults(cautions(house))
        if not wrong:
            wrong += letter_findings(house, self.folder)
        if wrong:
            return Inspection(self._faults(wrong), warnings)
        return Inspection((), warnings, with_whole_names(house, self.folder), self.text)

    def _misread(self, error: ValidationError) -> list[Finding | Remark]:
        findings = findings_of(error, self.data)
        return [*findings, *clashes_besides(self.data, [finding.path for finding in findings])]

    def _faults(self, found: Iterable[Finding | Remark]) -> tuple[Fault, ...]:
        faults = (
            Fault(
                self.name, self.lines.of(one.path), readable(one.path, self.data), one.what, one.mend,
                danger=isinstance(one, Danger),
            )
            for one in found
        )  # fmt: skip
        return tuple(sorted(dict.fromkeys(faults), key=lambda fault: (not fault.danger, fault.line)))
