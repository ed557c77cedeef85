"""The commands `report` and `export`: what the record says of a period, and the record itself."""

from __future__ import annotations

import sys
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import click

from thermostatd.cli_given import AS_JSON, HOUSE, STATE, json_text, load, show, state_folder

if TYPE_CHECKING:
    from thermostatd.core.house import House
    from thermostatd.daemon.report.period import Period

FROM = click.option("--from", "begins", type=click.DateTime(["%Y-%m-%d"]), help="First day.")
TO = click.option("--to", "ends", type=click.DateTime(["%Y-%m-%d"]), help="Last day.")


@click.command()
@HOUSE
@click.argument("kind", type=click.Choice(["day", "week", "month", "winter"]), default="week")
@FROM
@TO
@STATE
@click.option("--html", type=click.Path(path_type=Path), help="Write it to this new file, with pictures.")
@AS_JSON
def report(
    house: Path, kind: str, begins: datetime | None, ends: datetime | None, state: Path | None, html: Path | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Say what a day, week, month or winter was: energy, cost, comfort, clicks, wear, and what the house loses.

    It ends today unless --to says otherwise, and works beside the running daemon.

    \b
    Examples:
      thermostatd report house.toml day
      thermostatd report house.toml winter --html winter.html
      thermostatd report house.toml --from 2026-01-01 --to 2026-01-31 --json
    """
    from thermostatd.daemon.report.whole import make_report, plain
    from thermostatd.edge.store import StoreError
    from thermostatd.edge.store.reader import open_record

    described = load(house)
    when = _period(described, kind, begins, ends)
    try:
        with open_record(state_folder(state)) as record:
            made = make_report(described, record, when, show)
    except StoreError as fault:
        raise click.ClickException(str(fault)) from fault
    finally:
        show("")
    if html is not None:
        from thermostatd.daemon.report.page import report_page

        _write_new(html, report_page(made))
        click.echo(f"Wrote {html}.", err=as_json)
    if as_json:
        click.echo(json_text(plain(made)))
    elif html is None:
        from thermostatd.daemon.report.text import report_text

        click.echo(report_text(made))


@click.command()
@HOUSE
@click.argument("what", type=click.Choice(["rooms", "heaters", "events"]))
@FROM
@TO
@STATE
@click.option(
    "--csv",
    "as_csv",
    type=click.Path(path_type=Path, allow_dash=True),
    help="To a new file, or - for the screen.",
)
@click.option("--parquet", type=click.Path(path_type=Path), help="To this new file; needs pyarrow.")
def export(
    house: Path, what: str, begins: datetime | None, ends: datetime | None, state: Path | None, as_csv: Path | None,
    parquet: Path | None,
) -> None:  # fmt: skip
    """Write the record's rows as CSV or Parquet, with units in the column names.

    Without --from and --to: all there is. Minutes older than two months are quarter hours.

    \b
    Examples:
      thermostatd export house.toml rooms --csv rooms.csv
      thermostatd export house.toml heaters --from 2026-01-01 --parquet heaters.parquet
    """
    from thermostatd.daemon.report.export import ExportError, rows_of, write_csv, write_parquet
    from thermostatd.edge.store import StoreError
    from thermostatd.edge.store.reader import open_record

    if (as_csv is None) == (parquet is None):
        raise click.UsageError("give --csv FILE or --parquet FILE")
    described = load(house)
    try:
        with open_record(state_folder(state)) as record:
            first = record.begins()
            zone = ZoneInfo(described.house.timezone)
            oldest = first.astimezone(zone).date() if first else None
            when = _period(described, "day", begins or _noon(oldest), ends)
            rows = rows_of(what, described, record, when.since, when.until)
            if parquet is not None:
                _refuse_old(parquet)
                count = write_parquet(what, rows, parquet)
            elif str(as_csv) == "-":
                write_csv(what, rows, sys.stdout)
                return
            else:
                assert as_csv is not None
                _refuse_old(as_csv)
                with open(as_csv, "x", encoding="utf-8", newline="") as out:
                    count = write_csv(what, rows, out)
    except (StoreError, ExportError, OSError) as fault:
        raise click.ClickException(str(fault)) from fault
    click.echo(f"Wrote {count} rows to {parquet or as_csv}.")


def _noon(day: date | None) -> datetime | None:
    return None if day is None else datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


def _period(house: House, kind: str, begins: datetime | None, ends: datetime | None) -> Period:
    from thermostatd.daemon.report.period import period

    season = house.house.season
    try:
        return period(
            kind,
            ZoneInfo(house.house.timezone),
            datetime.now(UTC),
            begins.date() if begins else None,
            ends.date() if ends else None,
            season.begins if season else None,
        )
    except ValueError as fault:
        raise click.UsageError(str(fault)) from fault


def _refuse_old(path: Path) -> None:
    if path.exists():
        raise click.ClickException(f"{path} is there already, and is left as it is: name a new file")


def _write_new(path: Path, text: str) -> None:
    _refuse_old(path)
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise click.ClickException(f"{path} cannot be written: {fault.strerror}") from fault
