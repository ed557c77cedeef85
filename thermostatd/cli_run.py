"""The commands that switch heaters: `run` a house, `demo` an invented one, `all-off`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from thermostatd.cli_given import HOUSE, STATE, NumberRange, progress_bar, show_faults, state_folder

if TYPE_CHECKING:
    from thermostatd.daemon.plugs_off import ToldOff


@click.command()
@click.option("--speed", type=NumberRange(0.1, 600.0), default=1.0, help="Times as fast as life.")
@click.option("--port", type=click.IntRange(1, 65535), help="The page's port, if 8420 will not do.")
def demo(speed: float, port: int | None) -> None:
    """An invented house, a broker and the page, after a day that it lives in seconds.

    Example: thermostatd demo --speed 60
    """
    import logging

    from thermostatd.daemon.demo import demo as run_demo
    from thermostatd.edge.logs import start_logging

    start_logging(logging.WARNING)
    run_demo(speed, port, click.echo, progress_bar)


@click.command()
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
        show_faults(seen.faults)
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


@click.command("all-off")
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
    show_faults(seen.faults)
    if described is None:
        raise SystemExit(1)
    if seen.house is None:
        click.echo("The house file has a fault: the plugs of the last good one are told.", err=True)
    _tell(tell_all_off(described, also=kept, left=kept_left(folder)))


def _tell(ended: ToldOff) -> None:
    """How many were told, whether that will last, and which ones a person has to go to."""
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
