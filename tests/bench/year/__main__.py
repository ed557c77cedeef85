"""Prints the year, month by month, then what was told."""

from __future__ import annotations

import argparse
from statistics import median

from tests.bench.plant.engine import weather_file
from tests.bench.year.home import START
from tests.bench.year.lived import Month, Year
from thermostatd.rehearsal.epw import EpwWeather, read_epw


def line(month: Month) -> str:
    """One month."""
    found = [judge.finish() for judge in month.judges.values()]
    late = [minutes for one in found for _, minutes in one.arrivals]
    on_time = sum(abs(one) <= 10.0 for one in late)
    rooms, days = len(found), max(month.days, 1e-9)
    return (
        f"{month.name}  stray {sum(one.stray_kelvin for one in found) / rooms:.2f} K  "
        f"clicks {month.switchings / rooms / days:5.1f} a room and day  "
        f"arrivals {on_time:3}/{len(late):<3} (median {median(late) if late else 0.0:+.0f} min)  "
        f"{sum(one.kwh for one in found):6.0f} kWh  too warm {month.too_warm_minutes:4.0f}  "
        f"cold {month.cold_minutes:5.0f}  rested {month.rested_minutes:4.0f}  paused {month.paused_minutes:5.0f} min  "
        f"{month.most_bytes:.0f} B  {dict(month.told) or ''}"
    )


def main() -> None:
    """Live it."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.year")
    asked.add_argument("--law", default="predictive")
    asked.add_argument("--days", type=int, default=365)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--weather", default="newark", help="part of a weather file's name, or a path")
    asked.add_argument("--fit-days", type=int, default=4, help="learn every so many nights (life: each)")
    how = asked.parse_args()
    weather = EpwWeather(read_epw(weather_file(how.weather)), START)
    year, shown = Year(how.law, how.seed, how.days, weather, how.fit_days), 0

    def progress(_: float) -> None:
        nonlocal shown
        while shown < len(year.months) - 1:
            print(line(year.months[shown]), flush=True)
            shown += 1

    year.run(progress)
    print("\n".join(line(month) for month in year.months[shown:]))
    print("\n".join([*year.log, *year.cold_days()]))


if __name__ == "__main__":
    main()
