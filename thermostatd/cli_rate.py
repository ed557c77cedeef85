"""`thermostatd rate`: what elements, voltage, breaker and plug allow. Arithmetic only: it talks to nothing.

Exit codes: 0 rated, 1 a selection is larger than its breaker, 2 the command was not written right.
"""

from __future__ import annotations

import json as json_text
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from thermostatd.cli_given import Number

if TYPE_CHECKING:
    from thermostatd.physics.rating import Rated, Rating

CAUTIONS = (
    "A wall socket only: no strip, extension lead or adaptor. The plug's continuous resistive rating must exceed the "
    "heater's current at the highest mains voltage.",
    "Long loads: 80 % of the breaker (NEC; elsewhere what your code says); about 10 A on a UK 13 A socket. Add up "
    "every heater on the circuit.",
    "Never open a heater. Local codes and licensed practice decide.",
)
NAMES = ("selection", "Ω", "low W", "W", "high W", "high A", "circuit", "plug")


NUMBER = Number()


@click.command(context_settings={"allow_extra_args": True})
@click.option("--ohms", multiple=True, type=NUMBER, help="An element's resistance, Ω; once for each element.")
@click.option("--watts", multiple=True, type=NUMBER, help="A setting's power, W; once for each setting.")
@click.option("--volts", type=NUMBER, default=230.0, show_default=True, help="Nominal mains voltage, V.")
@click.option("--breaker", type=NUMBER, help="The circuit's breaker, A.")
@click.option("--share", type=NUMBER, default=0.8, show_default=True, help="Its share for long loads.")
@click.option("--plug-amps", type=NUMBER, help="The plug's continuous resistive rating, A.")
@click.option("--tolerance", type=NUMBER, help="Of the mains, a share: 0.05 under 150 V, else 0.10.")
@click.option("--json", "as_json", is_flag=True, help="For a machine to read.")
@click.pass_context
def rate(
    ctx: click.Context,
    ohms: tuple[float, ...],
    watts: tuple[float, ...],
    volts: float,
    breaker: float | None,
    share: float,
    plug_amps: float | None,
    tolerance: float | None,
    as_json: bool,
) -> None:
    """Say what each selection of a heater draws at low, nominal and high mains, and what carries it for hours.

    Example: thermostatd rate --ohms 23 --ohms 17 --volts 120 --breaker 15 --plug-amps 15
    """
    if ctx.args:
        lone = ctx.args[0]
        raise click.UsageError(
            f'"{lone}" stands alone: write --ohms or --watts before each value, as in --ohms 23 --ohms 17.'
        )
    from thermostatd.physics.rating import rate as rated

    try:
        rating = rated(ohms, watts, volts, breaker, share, plug_amps, tolerance)
    except ValueError as fault:
        raise click.UsageError(str(fault)) from fault
    click.echo(json_text.dumps(_plain(rating), ensure_ascii=False) if as_json else _table(rating))
    if rating.over_breaker:
        click.echo("A selection is larger than its breaker: do not plug it in there.", err=True)
        raise SystemExit(1)


def _table(rating: Rating) -> str:
    rows = [NAMES, *(_row(one) for one in rating.selections)]
    wide = [max(len(row[column]) for row in rows) for column in range(len(NAMES))]
    lines = [
        "  ".join(
            f"{cell:<{wide[0]}}" if n == 0 else f"{cell:>{wide[n]}}" for n, cell in enumerate(row)
        ).rstrip()
        for row in rows
    ]
    return "\n".join([_heading(rating), "", *lines, "", *(f"- {caution}" for caution in CAUTIONS)])


def _heading(rating: Rating) -> str:
    parts = [f"Mains {rating.volts:g} V ± {100 * rating.tolerance:g} %."]
    if rating.circuit_amps is not None:
        watts = rating.circuit_amps * rating.volts
        parts.append(
            f"A {rating.breaker_amps:g} A breaker carries {rating.circuit_amps:g} A ({watts:.0f} W) for hours."
        )
    if rating.plug_amps is not None:
        parts.append(f"The plug carries {rating.plug_amps:g} A.")
    parts.append("Counted at high mains.")
    return " ".join(parts)


def _row(one: Rated) -> tuple[str, ...]:
    draws = one.selection.draws
    circuit = "over the breaker" if one.over_breaker else _word(one.fits_circuit)
    numbers = (
        f"{one.selection.ohms:.2f}",
        f"{draws.low_watts:.0f}",
        f"{draws.watts:.0f}",
        f"{draws.high_watts:.0f}",
    )
    return (one.selection.name, *numbers, f"{draws.high_amps:.2f}", circuit, _word(one.fits_plug))


def _word(fits: bool | None) -> str:
    return "-" if fits is None else "fits" if fits else "too much"


def _plain(rating: Rating) -> dict[str, object]:
    plain = asdict(rating)
    plain["cautions"] = list(CAUTIONS)
    return plain
