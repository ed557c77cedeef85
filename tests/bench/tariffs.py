"""What minding prices saves in the simulated house, against the same law that does not, day for day.

Paired: the same rooms, weather, people and sensors; only the owner's band differs (0.5 K against none). Run it:
    python -m tests.bench.tariffs [days] [seeds] [law ...]
The prices are invented: dear from 07:00 to 09:00 and from 17:00 to 20:00.
"""

from __future__ import annotations

import sys
from datetime import datetime
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.rehearsal.trial import Outcome, Trial

START = datetime(2026, 1, 12, tzinfo=ZoneInfo("Europe/Oslo"))
PRICES = [{"from": "07:00", "to": "09:00", "per_kwh": 3.0}, {"from": "17:00", "to": "20:00", "per_kwh": 3.0}]


def house(band: float) -> House:
    """Two invented rooms that are to be warm all day."""
    rooms = [
        {"name": f"r{n}", "band": band, "sensor": {"topic": f"air/{n}"},
         "usual": [{"at": "00:00", "celsius": 20}],
         "heater": [{"name": "h", "kind": kind, "watts": 650, "may_run": ["awake", "asleep"],
                     "plug": {"kind": "simulated"}}]}
        for n, kind in enumerate(("oil-filled", "panel"))
    ]  # fmt: skip
    tariff = {"currency": "kr", "per_kwh": 1.0, "prices": PRICES}
    table = {"timezone": "Europe/Oslo", "outdoor": {"topic": "yard"}}
    return House.model_validate({"house": table, "tariff": tariff, "room": rooms})


def pair(law: str, seed: int, days: float) -> tuple[Outcome, Outcome]:
    """Without minding prices, and with."""
    calm, minded = (
        Trial(house(band), law, seed=seed, start=START, days=days, warm_days=2).run() for band in (0.0, 0.5)
    )
    return calm, minded


def mean(outcome: Outcome) -> float:
    """The rooms' mean true air, °C."""
    return sum(room.mean_celsius for room in outcome.rooms.values()) / len(outcome.rooms)


def main() -> None:
    """Print a line a pair."""
    days = float(sys.argv[1]) if len(sys.argv) > 1 else 7.0
    seeds = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    for law in sys.argv[3:] or ("hysteresis", "proportional"):
        for seed in range(1, seeds + 1):
            calm, minded = pair(law, seed, days)
            change = 100.0 * (minded.cost / calm.cost - 1.0)
            print(
                f"{law:12} seed {seed}: {calm.cost:7.2f} -> {minded.cost:7.2f} kr ({change:+.1f} %), {calm.kwh:.1f} -> "
                f"{minded.kwh:.1f} kWh, mean air {mean(calm):.2f} -> {mean(minded):.2f} °C",
                flush=True,
            )


if __name__ == "__main__":
    main()
