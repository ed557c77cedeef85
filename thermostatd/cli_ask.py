"""The commands that ask what the running daemon knows: `why` a room is heated or not, and a code to `join` by."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from thermostatd.cli_given import AS_JSON, STATE, ask_daemon, json_text, load, show, state_folder


@click.command()
@click.argument("house", type=click.Path(path_type=Path), required=False)
@STATE
@click.option("--owner", is_flag=True, help="For the owner's own phone.")
def join(house: Path | None, state: Path | None, owner: bool) -> None:
    """Show a code by which one phone joins the running house within ten minutes.

    HOUSE is only used to say where the page is.

    Example: thermostatd join house.toml --owner
    """
    answer = ask_daemon(state, {"say": "join", "role": "owner" if owner else "household"})
    code = answer["code"]
    where, here = " on the page, under “Join”", ""
    if house:
        from thermostatd.edge.own_address import only_here, page_address

        pages = load(house).pages
        where = f" at {page_address(pages)}/join"
        if only_here(pages):
            here = '\nOnly this machine reaches that: [pages] listen = "0.0.0.0:8420" in the house file lets phones in.'
    click.echo(
        f"Code {code[:4]} {code[4:]} — type it{where} within {answer['minutes']:.0f} minutes. It works once.{here}"
    )


@click.command()
@click.argument("room")
@click.option("--at", help='An earlier moment, such as "2026-01-12 07:45", or "07:45" for today.')
@STATE
@AS_JSON
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
        answer = ask_daemon(state, {"say": "why", "room": room})
        click.echo(json_text(answer["told"]) if as_json else answer["text"])
        return
    text, told = _why_then(room, at, state)
    click.echo(json_text(told) if as_json else text)


def _why_then(room: str, at: str, state: Path | None) -> tuple[str, Any]:
    from thermostatd.daemon.telling_why_then import StoreError, ThenError, why_then

    try:
        return why_then(state_folder(state), room, at, datetime.now(UTC), show)
    except (StoreError, ThenError) as fault:
        raise click.ClickException(str(fault)) from fault
    finally:
        show("")
