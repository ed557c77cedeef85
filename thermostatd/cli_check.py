"""The command `check`: every fault of a house file, and every caution that applies."""

from __future__ import annotations

import os
from pathlib import Path

import click

from thermostatd.cli_given import AS_JSON, HOUSE, STATE, state_folder


@click.command()
@HOUSE
@STATE
@AS_JSON
def check(house: Path, state: Path | None, as_json: bool) -> None:
    """Name every fault of a house file with its line and mend, and every caution that applies.

    Where the state folder holds a house's memory, it says too which rooms and heaters bear another name in the file,
    and which ones lose what was learned of them. Exits 1 if there is a fault; all else exits 0.

    Example: thermostatd check house.toml
    """
    from thermostatd.daemon.names_changed import names_changed
    from thermostatd.edge.house_check import check_house

    folder = state_folder(state)
    text, code = check_house(house, as_json, lambda described: names_changed(folder, described))
    click.echo(text if as_json else _coloured(text))
    raise SystemExit(code)


def _coloured(text: str) -> str:
    """Faults and warnings marked by colour: click leaves it out where the output is no terminal."""
    if os.environ.get("NO_COLOR"):
        return text
    marks = {"fault": "red", "danger": "red", "warning": "yellow", "name": "yellow"}
    return "\n".join(
        line.replace(word, click.style(word, fg=marks[word], bold=True), 1)
        if (word := line.partition(" ")[0]) in marks
        else line
        for line in text.split("\n")
    )
