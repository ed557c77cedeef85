"""`python -m tests.bench`: every measurement, one table; exits 1 if a goal is not met. About six minutes."""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.bench import idle, page, record, soon, steps, weight
from tests.bench.row import Row, table


def measure_all(folder: Path) -> list[Row]:
    """All rows, each part in a folder of its own."""
    rows = steps.measure()
    for part in (weight, page, soon, record, idle):
        own = folder / part.__name__.rpartition(".")[2]
        own.mkdir()
        rows += part.measure(own)
    return rows


def main() -> int:
    """Print the table; 1 where a goal is not met."""
    with tempfile.TemporaryDirectory(prefix="thermostatd-bench-") as folder:
        rows = measure_all(Path(folder))
    print(table(rows))
    return 0 if all(row.met for row in rows) else 1


if __name__ == "__main__":
    raise SystemExit(main())
