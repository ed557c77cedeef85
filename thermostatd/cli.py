"""The commands. Each imports what it needs when it is called, so that help and `check` answer at once.

Exit codes: 0 done, 1 the house file or the request has faults, 2 the command was not written right.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from thermostatd.cli_completion import completion
from thermostatd.cli_listen import listen
from thermostatd.cli_notices import notices
from thermostatd.cli_rate import rate
from thermostatd.cli_rehearse import rehearse
from thermostatd.cli_replay import replay
from thermostatd.cli_report import export, report

if TYPE_CHECKING:
    from collections.abc import Sequence

    from thermostatd.core.house import House
    from thermostatd.edge.house_faults import Fault

HOUSE = click.argument("house", type=click.Path(path_type=Path))
STATE = click.option("--state", type=click.Path(path_type=Path), help="Folder for the record and memory.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="thermostatd", message="%(prog)s %(version)s")
def main() -> None:
    """Heats rooms with portable electric heaters on smart plugs, and always ends in OFF.

    Software is not the safety device: read `thermostatd demo`'s help page on safety before you heat a room.

    \b
    Begin with:
      thermostatd demo --speed 60
      thermostatd listen --minutes 10 --out house.toml
      thermostatd check house.toml

    Exit codes: 0 done, 1 it cannot be or has faults, 2 not written right.
    """


@main.command()
@click.option("--speed", type=click.FloatRange(0.1, 600.0), default=1.0, help="Times as fast as life.")
@click.option("--port", type=click.IntRange(1, 65535), help="The page's port, if 8420 will not do.")
def demo(speed: float, port: int | None) -> None:
    """An invented house, a broker and the page, at once.

    Example: thermostatd demo --speed 60
    """
    import logging

    from thermostatd.daemon.demo import demo as run_demo
    from thermostatd.edge.logs import start_logging

    start_logging(logging.WARNING)
    run_demo(speed, port, click.echo)


@main.command()
@HOUSE
@STATE
def run(house: Path, state: Path | None) -> None:
    """Heat the house that the file HOUSE describes, until told to stop.

    The state folder is --state, else $STATE_DIRECTORY, else the user's own. A changed file is taken in while running.
    Where the file has a fault, the last good one is in force, and that is told; where there is none, it ends.

    Example: thermostatd run house.toml --state data
    """
    from thermostatd.daemon.kept_house import kept_house
    from thermostatd.edge.house_file import inspect_house

    seen = inspect_house(house)  # first: a fault is told before all else is imported
    folder = state_folder(state)
    described = seen.house or kept_house(folder, house)
    if described is None:
        _show_faults(seen.faults)
        raise SystemExit(1)

    import asyncio

    from thermostatd.daemon.parts import Parts, needs_rehearsal
    from thermostatd.daemon.running import run as run_house
    from thermostatd.edge.embedded_broker import EmbeddedBrokerError
    from thermostatd.edge.logs import start_logging
    from thermostatd.edge.store import StoreError

    start_logging()
    if needs_rehearsal(described):
        raise click.ClickException('a plug of kind "simulated" heats nothing: it works in rehearsals only')
    try:
        asyncio.run(run_house(Parts(described, folder, path=house, seen=seen)))
    except (StoreError, EmbeddedBrokerError, ValueError) as fault:
        raise click.ClickException(str(fault)) from fault


@main.command()
@HOUSE
@STATE
@click.option("--json", "as_json", is_flag=True, help="For a machine to read.")
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


@main.command()
@click.argument("house", type=click.Path(path_type=Path), required=False)
@STATE
@click.option("--owner", is_flag=True, help="For the owner's own phone.")
def join(house: Path | None, state: Path | None, owner: bool) -> None:
    """Show a code by which one phone joins the running house within ten minutes.

    HOUSE is only used to say where the page is.

    Example: thermostatd join house.toml --owner
    """
    answer = _ask_daemon(state, {"say": "join", "role": "owner" if owner else "household"})
    code = answer["code"]
    where, here = " on the page, under “Join”", ""
    if house:
        from thermostatd.edge.own_address import only_here, page_address

        pages = _load(house).pages
        where = f" at {page_address(pages)}/join"
        if only_here(pages):
            here = '\nOnly this machine reaches that: [pages] listen = "0.0.0.0:8420" in the house file lets phones in.'
    click.echo(
        f"Code {code[:4]} {code[4:]} — type it{where} within {answer['minutes']:.0f} minutes. It works once.{here}"
    )


@main.command()
@click.argument("room")
@click.option("--at", help='An earlier moment, such as "2026-01-12 07:45", or "07:45" for today.')
@STATE
@click.option("--json", "as_json", is_flag=True, help="For a machine to read.")
def why(room: str, at: str | None, state: Path | None, as_json: bool) -> None:
    """Say why ROOM is heated or not: readings, target, demand, which checks spoke, and what would change it.

    With --at it needs no running daemon: the moment is decided again from the record.

    \b
    Examples:
      thermostatd why study
      thermostatd why study --at 07:45
      thermostatd why study --json
    """
    if at is None:
        answer = _ask_daemon(state, {"say": "why", "room": room})
        click.echo(_json(answer["told"]) if as_json else answer["text"])
        return
    from datetime import UTC, datetime

    from thermostatd.cli_listen import show
    from thermostatd.daemon.telling_why_then import StoreError, ThenError, why_then

    try:
        text, told = why_then(state_folder(state), room, at, datetime.now(UTC), show)
    except (StoreError, ThenError) as fault:
        raise click.ClickException(str(fault)) from fault
    finally:
        show("")
    click.echo(_json(told) if as_json else text)


@main.command("all-off")
@HOUSE
@STATE
def all_off(house: Path, state: Path | None) -> None:
    """Tell every plug OFF over the broker, once, and end. Works while the daemon is down.

    Plugs of the last good house file, which the state folder keeps, are told as well. A daemon that runs would switch
    on again: then use "All off" on the page, or stop it first.

    Example: thermostatd all-off house.toml
    """
    from thermostatd.daemon.kept_house import kept_house
    from thermostatd.daemon.left_plugs import kept_left
    from thermostatd.daemon.plugs_off import tell_all_off
    from thermostatd.edge.house_file import inspect_house
    from thermostatd.edge.logs import log_each_once

    log_each_once()
    folder = state_folder(state)
    seen, kept = inspect_house(house), kept_house(folder, house)
    described = seen.house or kept
    _show_faults(seen.faults)
    if described is None:
        raise SystemExit(1)
    if seen.house is None:
        click.echo("The house file has a fault: the plugs of the last good one are told.", err=True)
    ended = tell_all_off(described, also=kept, left=kept_left(folder))
    if ended.told:
        click.echo("1 plug was told OFF." if ended.told == 1 else f"{ended.told} plugs were told OFF.")
    if ended.daemon_runs:
        click.echo(
            "A thermostatd runs here and goes on: after a while it will switch on again. "
            "Press “All off” on its page, or stop it first.",
            err=True,
        )
    if ended.left:
        whole = "" if ended.told else "no plug was told OFF; "
        raise click.ClickException(f"{whole}not told: {', '.join(ended.left)}. Switch them off by hand.")


main.add_command(listen)
main.add_command(completion)
main.add_command(notices)
main.add_command(report)
main.add_command(export)
main.add_command(rate)
main.add_command(replay)
main.add_command(rehearse)


def state_folder(given: Path | None) -> Path:
    """The state folder: as given, else the service manager's, else the user's own."""
    if given is not None:
        return given
    managed = os.environ.get("STATE_DIRECTORY", "").partition(":")[0]
    if managed:
        return Path(managed)
    base = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
    return Path(base) / "thermostatd"


def _coloured(text: str) -> str:
    """Faults and warnings marked by colour: click leaves it out where the output is no terminal."""
    if os.environ.get("NO_COLOR"):
        return text
    marks = {"fault": "red", "warning": "yellow", "name": "yellow"}
    return "\n".join(
        line.replace(word, click.style(word, fg=marks[word], bold=True), 1)
        if (word := line.partition(" ")[0]) in marks
        else line
        for line in text.split("\n")
    )


def _load(path: Path) -> House:
    from thermostatd.edge.house_file import inspect_house

    seen = inspect_house(path)
    if seen.house is None:
        _show_faults(seen.faults)
        raise SystemExit(1)
    return seen.house


def _show_faults(faults: Sequence[Fault]) -> None:
    for fault in faults:
        click.echo(str(fault), err=True)


def _json(told: Any) -> str:
    import json

    return json.dumps(told, ensure_ascii=False, indent=2)


def _ask_daemon(state: Path | None, words: dict[str, str]) -> dict[str, Any]:
    from thermostatd.daemon.owner_socket import OwnerSocketError, ask

    try:
        answer = ask(state_folder(state), words)
    except OwnerSocketError as fault:
        raise click.ClickException(str(fault)) from fault
    if "fault" in answer:
        raise click.ClickException(answer["fault"])
    return answer
