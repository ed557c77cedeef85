"""What a command is given, and how it answers: the house file, the state folder, the running daemon, a terminal.

Rules: what cannot be ends with a sentence and exit code 1; nothing large is imported before it is needed, so that help
answers at once.
"""

from __future__ import annotations

import json
import os
import re
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from thermostatd.core.house import House
    from thermostatd.edge.house_faults import Fault

class Number(click.types.FloatParamType):
    """A number as half the world writes it gets the mend, not a word of the library's."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        try:
            float(value)
        except ValueError:
            mend = str(value).replace(",", ".")
            plain = re.fullmatch(r"-?\d*\.?\d+", mend)
            how = f"write {mend}" if plain else "write one such as 23 or 5.5, without its unit"
            self.fail(f'"{value}" is no number: {how}', param, ctx)
        return super().convert(value, param, ctx)


class NumberRange(Number, click.FloatRange):
    """One of a range."""


HOUSE = click.argument("house", type=click.Path(path_type=Path))
STATE = click.option("--state", type=click.Path(path_type=Path), help="Folder for the record and memory.")
AS_JSON = click.option("--json", "as_json", is_flag=True, help="For a machine to read.")


def state_folder(given: Path | None) -> Path:
    """The state folder: as given, else the service manager's, else the user's own."""
    if given is not None:
        return given
    managed = os.environ.get("STATE_DIRECTORY", "").partition(":")[0]
    if managed:
        return Path(managed)
    base = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(base) / "thermostatd"


def load(path: Path) -> House:
    """The house that a file describes; where it has faults, they are told, and the command ends."""
    from thermostatd.edge.house_file import inspect_house

    seen = inspect_house(path)
    if seen.house is None:
        show_faults(seen.faults)
        raise SystemExit(1)
    return seen.house


def show_faults(faults: Sequence[Fault]) -> None:
    """Each fault of a house file with its line."""
    for fault in faults:
        click.echo(str(fault), err=True)


def ask_daemon(state: Path | None, words: dict[str, str]) -> dict[str, Any]:
    """What the running daemon answers; where it does not, or refuses, the command ends."""
    from thermostatd.daemon.owner_socket import OwnerSocketError, ask

    try:
        answer = ask(state_folder(state), words)
    except OwnerSocketError as fault:
        raise click.ClickException(str(fault)) from fault
    if "fault" in answer:
        raise click.ClickException(answer["fault"])
    return answer


def json_text(told: Any) -> str:
    """For a machine to read, and a person too."""
    return json.dumps(told, ensure_ascii=False, indent=2)


def show(line: str) -> None:
    """Progress, on a terminal only."""
    if sys.stderr.isatty():
        click.echo(f"\r\x1b[2K{line}", nl=False, err=True)


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[float], None] | None]:
    """What takes the share that is done, for a bar on a terminal; None anywhere else."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1000, label=label, file=sys.stderr) as bar:
        yield lambda share: bar.update(round(1000 * share) - bar.pos)
        bar.update(1000 - bar.pos)
