"""The command `listen`: its options, and its talk with a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from thermostatd.cli_given import NumberRange, json_text, show


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="The broker's address.")
@click.option("--port", type=click.IntRange(1, 65535), default=1883, show_default=True, help="Its port.")
@click.option("--user", help="The name to give to the broker.")
@click.option("--password-file", type=click.Path(path_type=Path, exists=True), help="File with the password.")
@click.option(
    "--ca", type=click.Path(path_type=Path, exists=True), help="Use TLS, with this authority's certificate."
)
@click.option(
    "--minutes", type=NumberRange(0.02, 24 * 60), default=5.0, show_default=True, help="How long."
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="A new file for the proposed house. Never overwrites."
)
@click.option("--blink", is_flag=True, help="Offer to blink each plug, asking first, to find and prove it.")
@click.option(
    "--timer", help='With --blink: how a plug is told ON for some seconds, such as "true {seconds}".'
)
@click.option("--json", "as_json", is_flag=True, help="For a machine to read: findings, no proposal.")
def listen(
    host: str, port: int, user: str | None, password_file: Path | None, ca: Path | None, minutes: float,
    out: Path | None, blink: bool, timer: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Hear the broker for a while, and propose a house file.

    Sensors and plugs are recognised by how their values behave, or by the open Homie convention. It only listens,
    unless you say yes to a blink.

    \b
    Examples:
      thermostatd listen --minutes 10 --out house.toml
      thermostatd listen --user thermostatd --password-file secret --blink --timer "true {seconds}" --out house.toml
    """
    from thermostatd.daemon import listen as listening
    from thermostatd.edge.listening import BrokerWords

    if timer is not None and ("{seconds}" not in timer or not blink):
        raise click.UsageError("--timer goes with --blink, and holds {seconds}")
    if out is not None and out.exists():
        raise click.ClickException(f"{out} is there already, and is left as it is: name a new file")
    place = [str(path.resolve()) if path else None for path in (password_file, ca)]
    broker = BrokerWords(host, port, user, *place)
    talk = listening.Talk(lambda line: click.echo(line, err=as_json), show, _ask, _choose)
    try:
        found = listening.hear(broker, minutes * 60.0, talk)
        if as_json:
            click.echo(json_text(listening.plain(found)))
            return
        for line in listening.told(found):
            click.echo(line)
        if blink and found.plugs:
            listening.blink_each(found, broker, timer, talk)
        text = listening.proposed(found, broker)
        if out is None:
            click.echo(f"\n{text}", nl=False)
        else:
            listening.write_new(text, out)
            click.echo(f"Wrote {out}. Next: thermostatd check {out}")
    except listening.ListenError as fault:
        raise click.ClickException(str(fault)) from fault


def _ask(question: str) -> bool:
    """Yes only where a person typed it: no terminal and no input mean no."""
    try:
        return click.confirm(question, default=False)
    except click.Abort:
        return False


def _choose(question: str, words: Sequence[str]) -> str | None:
    for number, word in enumerate(words, 1):
        click.echo(f"  {number}  {word}")
    try:
        number = click.prompt(f"{question} (0: none of these)", type=click.IntRange(0, len(words)), default=0)
    except click.Abort:
        return None
    return words[number - 1] if number else None
