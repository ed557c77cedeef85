"""The command `rehearse`: the owner's own house through a cold week, in a table and a picture."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from thermostatd.cli_given import HOUSE, NumberRange, load, progress_bar

if TYPE_CHECKING:
    from thermostatd.core.house import House
    from thermostatd.daemon.rehearsing import Rehearsal
    from thermostatd.rehearsal.trial import Outcome

INVENTED = (
    "The rooms are invented: a house file does not say how large and leaky they are. Compare the laws, "
    "not the figures with your meter. Nothing was told to any plug."
)
ON_TIME_MINUTES, MUCH_KELVIN = 10.0, 1.0
HEADINGS = ("", "stray K", "clicks/day", "on time", "median late", "cut-outs", "kWh", "cost")


@click.command()
@HOUSE
@click.option("--weather", type=click.Path(path_type=Path), help="An EPW year, or a CSV: time,celsius,sun.")
@click.option("--days", type=NumberRange(1, 28), default=7.0, show_default=True, help="Days that count.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another one, another invented house.")
@click.option("--picture", type=click.Path(path_type=Path), help="Write a picture to this SVG file.")
@click.option("--json", "as_json", is_flag=True, help="For a machine to read: every room, every arrival.")
def rehearse(
    house: Path, weather: Path | None, days: float, seed: int, picture: Path | None, as_json: bool
) -> None:
    """Take the house of the file HOUSE through a cold week, in a simulated house, under each control law.

    Every law meets the same rooms, weather, sensors and people; three days before warm the house up and teach it.
    Nothing goes to a broker or a plug. Of an EPW file (an open format of weather years) it takes the coldest days.

    Example: thermostatd rehearse house.toml --picture week.svg
    """
    from thermostatd.daemon.rehearsing import RehearsalError
    from thermostatd.daemon.rehearsing import rehearse as live_through
    from thermostatd.rehearsal.epw import EpwError
    from thermostatd.rehearsal.weather_file import WeatherFileError, sky_of

    described = load(house)
    if not any(room.heaters for room in described.rooms):
        raise click.ClickException("no room of this house has a heater: there is nothing to rehearse")
    if picture is not None and not picture.absolute().parent.is_dir():
        raise click.ClickException(f"the picture cannot be written to {picture}: there is no such folder")
    chosen: dict[str, Any] = {}
    if weather is not None:
        try:
            sky = sky_of(weather, ZoneInfo(described.house.timezone), days, 3)
        except (WeatherFileError, EpwError) as fault:
            raise click.ClickException(str(fault)) from fault
        chosen = {"start": sky.start, "weather": sky.weather, "told": sky.told}
    try:
        with progress_bar("Living through it") as progress:
            found = live_through(described, days=days, seed=seed, progress=progress, **chosen)
    except RehearsalError as fault:
        raise click.ClickException(str(fault)) from fault
    click.echo(_json(found) if as_json else "\n".join(_text(found, described)))
    if picture is not None:
        _write(picture, found)


def _write(path: Path, found: Rehearsal) -> None:
    from thermostatd.daemon.rehearsal_picture import picture_of

    try:
        path.write_text(picture_of(found), encoding="utf-8")
    except OSError as fault:
        raise click.ClickException(f"the picture cannot be written to {path}: {fault.strerror}") from fault


def _json(found: Rehearsal) -> str:
    told = asdict(found) | {"times_life": round(found.times_life), "saved": found.saved}
    return json.dumps(told, indent=1, ensure_ascii=False, default=str)


def _text(found: Rehearsal, house: House) -> list[str]:
    from thermostatd.edge.house_check import counted

    currency = house.tariff.currency if house.tariff else ""
    rows = [_row(outcome, house, found.within_reach) for outcome in found.outcomes]
    widths = [max(len(row[n]) for row in [HEADINGS, *rows]) for n in range(len(HEADINGS))]
    days = "day" if found.days == 1 else "days"
    lines = [
        f"{house.house.name}, {found.days:g} {days}: {found.weather}. Mean of {counted(len(found.rooms), 'room')}.",
        "",
    ]
    for row in [HEADINGS, *rows]:
        lines.append(
            "  ".join(cell.ljust(w) if n == 0 else cell.rjust(w) for n, (cell, w) in _cells(row, widths))
        )
    lines += [""]
    if found.saved is not None and found.unshifted is not None:
        lines += [_saved(found, currency)]
    lines += [
        "stray: how far the air is from what is wanted once it has come there, root mean square. on time: rooms that "
        "are warm within ten minutes of a rise.",
        *_out_of_reach(found),
        *_held(found),
        *_hushed(found, house),
        INVENTED,
        f"{found.times_life:,.0f} times as fast as life.".replace(",", " "),
    ]
    return lines


def _cells(row: tuple[str, ...], widths: list[int]) -> Iterator[tuple[int, tuple[str, int]]]:
    return iter(enumerate(zip(row, widths, strict=True)))


def _row(outcome: Outcome, house: House, within_reach: set[tuple[str, float]]) -> tuple[str, ...]:
    late = outcome.arrivals(within_reach)
    on_time = sum(abs(minutes) <= ON_TIME_MINUTES for minutes in late)
    currency = house.tariff.currency if house.tariff else ""
    return (
        outcome.law,
        f"{outcome.stray_kelvin:.2f}",
        f"{outcome.clicks_a_day:.0f}",
        f"{on_time} of {len(late)}" if late else "–",
        f"{median(late):+.0f} min" if late else "–",
        f"{sum(room.trips for room in outcome.rooms.values())}",
        f"{outcome.kwh:.1f}",
        f"{outcome.cost:.2f} {currency}".strip() if house.tariff else "–",
    )


def _out_of_reach(found: Rehearsal) -> list[str]:
    """Rises that no law met, and why: where a heater may not run before, nobody knows whether it is too weak."""
    missed = found.rises - len(found.within_reach)
    if not missed:
        return []
    held = len(_held_rises(found) - found.within_reach)
    weak = "the heaters are too weak for them in this weather"
    if held:
        others = f", and for the others {weak}" if missed > held else ""
        weak = f"before {held} of them a heater may not run, by its may_run and asleep, and the room has cooled{others}"
    return [f"{missed} of {found.rises} rises no law came to within three hours: {weak}. They are not counted as late."]


def _held_rises(found: Rehearsal) -> set[tuple[str, float]]:
    """(room, due) of the rises that the law which heats ahead may not heat ahead for."""
    return {
        (name, due)
        for outcome in found.outcomes
        if outcome.law == "predictive"
        for name, room in outcome.rooms.items()
        for due, _ in room.arrivals
        if due in room.held
    }


def _held(found: Rehearsal) -> list[str]:
    """Rises that the law which heats ahead came late to, since it was not allowed to."""
    from thermostatd.edge.house_check import counted

    late = {
        (name, due)
        for outcome in found.outcomes
        if outcome.law == "predictive"
        for name, room in outcome.rooms.items()
        for due, minutes in room.arrivals
        if minutes > ON_TIME_MINUTES and due in room.held and (name, due) in found.within_reach
    }
    if not late:
        return []
    rooms = ", ".join(f"“{name}”" for name in sorted({name for name, _ in late}))
    return [
        f"In {rooms} predictive came late to {counted(len(late), 'rise')} before which a heater may not run, by its "
        "may_run and asleep: it cannot heat ahead there."
    ]


def _hushed(found: Rehearsal, house: House) -> list[str]:
    """Rooms that no law could hold for their quiet hours: they hide in the mean what the laws do in the others."""
    lines = []
    for room in house.rooms:
        stray = min(outcome.rooms[room.name].stray_kelvin for outcome in found.outcomes)
        if stray > MUCH_KELVIN and room.quiet:
            few = min(quiet.switches for quiet in room.quiet)
            lines.append(
                f"“{room.name}” strays by {stray:.1f} K under the best law: its quiet hours allow {few} switchings, "
                "too few to hold it."
            )
    return lines


def _saved(found: Rehearsal, currency: str) -> str:
    assert found.unshifted is not None
    assert found.saved is not None
    ours = next(one for one in found.outcomes if one.law == "predictive")
    if ours.rooms == found.unshifted.rooms:
        return "Minding the prices moved nothing here: they differ too little, or only while no heat is wanted."
    share = f" ({100.0 * abs(found.saved) / found.unshifted.cost:.1f} %)" if found.unshifted.cost > 0.0 else ""
    money = f"{abs(found.saved):.2f} {currency}".strip()
    word = "saved" if found.saved >= 0 else "cost"
    colder = sum(
        found.unshifted.rooms[name].mean_celsius - room.mean_celsius for name, room in ours.rooms.items()
    ) / max(len(ours.rooms), 1)
    return (
        f"Minding the prices {word} {money}{share} here against the same law "
        f"that does not, at rooms {abs(colder):.2f}° {'cooler' if colder >= 0 else 'warmer'} on average."
    )
