"""The command `replay`: a recorded day decided again, and what another setting would have decided otherwise."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import click

from thermostatd.cli_given import STATE, load, state_folder

if TYPE_CHECKING:
    from collections.abc import Callable

    from thermostatd.core.house import House
    from thermostatd.daemon.replaying import Replay, Span

MOST_SPANS = 40
ONLY_DECISIONS = (
    "The readings are as they were and each plug is taken to obey: this shows what would have been decided otherwise, "
    "not how warm the rooms would have been. `thermostatd rehearse` shows that, in a simulated house."
)


@click.command()
@click.argument("day")
@STATE
@click.option("--house", "other", type=click.Path(path_type=Path), help="Decide by this house file instead.")
@click.option("--set", "settings", multiple=True, help="Change one value, as in study.differential=0.2.")
@click.option("--json", "as_json", is_flag=True, help="For a machine to read: every difference.")
def replay(
    day: str, state: Path | None, other: Path | None, settings: tuple[str, ...], as_json: bool
) -> None:
    """Decide a recorded day again, from what the house was given then.

    DAY is a date such as 2026-01-12, "today" or "yesterday", by the house's own clock; the last 14 days are kept.
    Nothing is told to any plug. With the setting of that day the orders must be the very same: exit code 1 says
    that they are not. With --house or --set it shows where another setting would have decided otherwise.

    Example: thermostatd replay yesterday --set study.control=predictive
    """
    from thermostatd.daemon.replaying import recorded_days, stretches
    from thermostatd.daemon.replaying import replay as decide_again
    from thermostatd.daemon.setting import SettingError
    from thermostatd.edge.store import StoreError

    folder = state_folder(state)
    try:
        wanted = _date_of(day, recorded_days(folder))
        recorded = stretches(folder, wanted)
        found = decide_again(recorded, _change(other, settings) if other or settings else None)
    except (StoreError, SettingError) as fault:
        raise click.ClickException(str(fault)) from fault
    zone = ZoneInfo(recorded[0].house.house.timezone)
    click.echo(_json(found, wanted) if as_json else _text(found, wanted, zone, bool(other or settings)))
    if not (other or settings or found.same):
        raise SystemExit(1)


def _date_of(day: str, there: list[str]) -> str:
    """The date meant; "today" is the last day that is recorded."""
    if day in ("today", "yesterday"):
        last = date.fromisoformat(there[-1]) if there else date.min
        return (last if day == "today" else last - timedelta(days=1)).isoformat() if there else day
    try:
        return date.fromisoformat(day).isoformat()
    except ValueError:
        raise click.BadParameter('write a date such as 2026-01-12, "today" or "yesterday"') from None


def _change(other: Path | None, settings: tuple[str, ...]) -> Callable[[House], House]:
    from thermostatd.daemon.setting import changed

    loaded = load(other) if other else None
    return lambda was: changed(_like(loaded, was) if loaded else was, settings)


def _like(other: House, was: House) -> House:
    """The other house without what was not recorded either."""
    return other.model_copy(update={"broker": was.broker, "pages": was.pages, "notices": was.notices})


def _json(found: Replay, day: str) -> str:
    told: dict[str, Any] = {"day": day, "same": found.same, "steps": found.steps, "programs": found.programs}
    told |= {"gone": sorted(found.gone), "new": sorted(found.new)}
    told["heaters"] = {key: asdict(tally) for key, tally in found.heaters.items()}
    told["differences"] = [
        asdict(span) | {"begins": span.begins.isoformat(), "ends": span.ends.isoformat()}
        for span in found.spans
    ]
    return json.dumps(told, indent=1, ensure_ascii=False)


def _text(found: Replay, day: str, zone: ZoneInfo, other: bool) -> str:
    lines = [f"{day}: {found.steps} steps decided again."]
    if other:
        lines += _of_heaters(found)
        lines += [_sentence(span, zone) for span in found.spans[:MOST_SPANS]]
        if len(found.spans) > MOST_SPANS:
            lines.append(f"… and {len(found.spans) - MOST_SPANS} more; --json has them all.")
        lines += [] if found.spans or not found.heaters else ["It would have decided the same all day."]
        lines += _not_compared(found)
        lines += ["", ONLY_DECISIONS]
    elif found.same:
        lines.append("Every order came out the very same, with its reason and its lapse.")
    else:
        lines.append(f"{found.parts - found.parts_same} of {found.parts} parts came out otherwise.")
        lines.append(
            f"The day was decided by program {', '.join(found.programs)}; another version may differ."
        )
        lines += [_sentence(span, zone) for span in found.spans[:MOST_SPANS]]
    return "\n".join(lines)


def _of_heaters(found: Replay) -> list[str]:
    width = max((len(key) for key in found.heaters), default=0)
    lines = [f"{'':{width}}  hours on         switchings", f"{'':{width}}  then  otherwise  then  otherwise"]
    for key, tally in found.heaters.items():
        hours = f"{tally.was_seconds / 3600:4.1f}  {tally.now_seconds / 3600:9.1f}"
        lines.append(f"{key:{width}}  {hours}  {tally.was_switches:4d}  {tally.now_switches:9d}")
    return [*lines, ""]


def _not_compared(found: Replay) -> list[str]:
    """Heaters that only one of the two settings has."""
    gone, new = (", ".join(f"“{key}”" for key in sorted(keys)) for keys in (found.gone, found.new))
    lines = [f"Not compared: the other setting has no {gone}."] if gone else []
    return [*lines, f"Not compared: nothing is recorded of {new}."] if new else lines


def _sentence(span: Span, zone: ZoneInfo) -> str:
    was, now = ("ON" if span.was_on else "OFF"), ("ON" if span.now_on else "OFF")
    times = f"{_clock(span.begins, zone)}–{_clock(span.ends, zone)}"
    return f"{times}  {span.heater}: {was} ({span.was_code}), otherwise {now} ({span.now_code})"


def _clock(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).strftime("%H:%M:%S")
