"""The command `notices`: where troubles are told, and whether that works."""

from __future__ import annotations

import json
from pathlib import Path

import click

from thermostatd.cli_given import AS_JSON, HOUSE, load


@click.command()
@HOUSE
@click.option("--test", is_flag=True, help="Send a test notice to each, now.")
@AS_JSON
def notices(house: Path, test: bool, as_json: bool) -> None:
    """Say where troubles are told besides the page and the broker; with --test, try each.

    Exits 1 if a test was not taken. Addresses are never shown.

    Example: thermostatd notices /etc/thermostatd/house.toml --test
    """
    from thermostatd.edge.notices import Notices

    described = load(house)
    table = described.notices
    if table is None or (table.webhook is None and table.addresses_file is None):
        raise click.ClickException(
            "[notices] names no webhook and no addresses_file: troubles stand on the page and on the broker only"
        )
    told = Notices(described)
    tried = told.try_out() if test else [(way, True) for way in told.ways]
    told.close()
    if as_json:
        click.echo(json.dumps([{"way": way, "taken": taken if test else None} for way, taken in tried]))
    else:
        for way, taken in tried:
            click.echo(f"{way}: {'a test notice was taken' if taken else 'NOT taken'}" if test else way)
    if not all(taken for _, taken in tried):
        raise SystemExit(1)
