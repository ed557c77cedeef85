"""How fast a rehearsal lives: ten rooms under each law, in times life. Run it:
    python -m tests.bench.rehearsing [hours]
By the processor's time of one process, so that a busy machine does not change the figure; learning is counted apart.
"""

from __future__ import annotations

import sys
import time
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from thermostatd.edge.house_file import load_house
from thermostatd.rehearsal.trial import DAY_SECONDS, LAWS, LEARN_AT_SECONDS, Trial

ROOMS = 10
GOAL = 30_000.0
LARGE = Path(__file__).resolve().parents[2] / "config" / "large-house.toml"
START = datetime(2026, 1, 12, tzinfo=ZoneInfo("Europe/Oslo"))


class Timed(Trial):
    """A trial that times its learning apart."""

    learning_seconds = 0.0

    def _learn_tonight(self, now: float) -> None:
        if not self._learns or int(now % DAY_SECONDS) // 60 != int(LEARN_AT_SECONDS) // 60:
            return  # asking the processor's clock each minute would cost a fifth of what is measured
        began = time.process_time()
        super()._learn_tonight(now)
        self.learning_seconds += time.process_time() - began


def main() -> None:
    """Print a line for each law."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 48.0
    large = load_house(LARGE)
    house = large.model_copy(update={"rooms": large.rooms[:ROOMS]})
    for law in LAWS:
        trial = Timed(house, law, seed=1, start=START, days=hours / 24.0, warm_days=0)
        began = time.process_time()
        outcome = trial.run()
        spent = time.process_time() - began
        living = spent - trial.learning_seconds
        print(
            f"{law:12} {outcome.lived_seconds / living:7.0f} times life (goal {GOAL:.0f}); a week of {ROOMS} rooms in "
            f"{7 * 86400.0 * living / outcome.lived_seconds:.1f} s, learning {trial.learning_seconds:.1f} s besides",
            flush=True,
        )


if __name__ == "__main__":
    main()
