"""One simulation by its name: done in a process of its own, and kept, since an unchanged program gives the same.

Rules: a kept run counts only for the same sources (the plant, and, where a Regulator decides, the laws it uses);
kept runs live in a cache folder of the user and may be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from tests.bench.plant.houses import BUILDINGS
from tests.bench.plant.programme import house_tables
from tests.bench.plant.trace import Trace

FIRST_DAY = date(2026, 2, 2)
ROOT = Path(__file__).parents[3]
UNBUILDABLE = ("ideal", "radiant", "full")


@dataclass(frozen=True)
class Spec:
    """What is run. `law`: a control law or one of `UNBUILDABLE`; `settings`: keys of every room of the house file."""

    house: str
    weather: str
    programme: str = "constant"
    law: str = "hysteresis"
    days: int = 12
    seed: int = 1
    settings: tuple[tuple[str, Any], ...] = ()
    trouble: str = ""

    @property
    def file(self) -> str:
        """A name for it that is its own and holds for these sources only."""
        whole = json.dumps([asdict(self), sources(self.law)], sort_keys=True, default=str)
        return f"{self.house}-{self.law}-{hashlib.sha256(whole.encode()).hexdigest()[:16]}"

    def like(self, law: str) -> Spec:
        """The same days of the same house, decided by another."""
        return Spec(self.house, self.weather, self.programme, law, self.days, self.seed)


@dataclass
class Run:
    """A trace, and what else is known of it: seconds of steps and fits, codes told, models learned."""

    trace: Trace
    notes: dict[str, Any] = field(default_factory=dict)


@cache
def sources(law: str) -> str:
    """A digest of all files whose change may change a run."""
    files = PLANT_FILES if law in UNBUILDABLE else (*PLANT_FILES, *DRIVEN_FILES)
    folders = [Path(__file__).parent / name for name in files]
    core = ROOT / "thermostatd" / "core"
    if law == "predictive":
        folders += [*sorted(core.rglob("*.py")), *sorted((ROOT / "thermostatd" / "physics").rglob("*.py"))]
    elif law not in UNBUILDABLE:
        folders += [core / name for name in PEER_FILES] + sorted((core / "guard/no_answer").glob("*.py"))
    whole = hashlib.sha256()
    for path in folders:
        whole.update(path.read_bytes())
    return whole.hexdigest()


PEER_FILES = ("demand/hysteresis.py", "demand/proportional.py", "demand/law.py", "pace.py", "guard/overshoot.py",
              "guard/longest_run.py")  # fmt: skip
"""What decides for a peer, `no-answer` beside it. A change elsewhere in the core is taken not to matter to it; --fresh
makes certain."""
PLANT_FILES = ("houses.py", "model.py", "engine.py", "devices.py", "programme.py", "unbuildable.py")
DRIVEN_FILES = ("regulated.py", "faults.py")


def cache_folder() -> Path:
    """Where kept runs lie."""
    home = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(home) / "thermostatd-bench"


def run(spec: Spec, *, fresh: bool = False) -> Run:
    """The run, from the cache or made now in a process of its own."""
    path, notes = _files(spec)
    if fresh or not is_kept(spec):
        path.parent.mkdir(parents=True, exist_ok=True)
        _in_a_process(spec, path, notes)
    return Run(Trace.load(path), json.loads(notes.read_text()))


def _files(spec: Spec) -> tuple[Path, Path]:
    return cache_folder() / f"{spec.file}.npz", cache_folder() / f"{spec.file}.json"


def is_kept(spec: Spec) -> bool:
    """Whether it was run before by the same program."""
    return all(path.exists() for path in _files(spec))


def _in_a_process(spec: Spec, path: Path, notes: Path) -> None:
    words = [sys.executable, "-m", "tests.bench.plant.run", json.dumps(asdict(spec)), str(path), str(notes)]
    environment = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(words, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"the run of {spec} failed:\n{done.stderr[-4000:]}")


def simulate_here(spec: Spec) -> Run:
    """The run in this process, which should end soon afterwards."""
    from tests.bench.plant.engine import simulate, weather_file
    from tests.bench.plant.unbuildable import Full, Ideal, Radiant

    building, trace = BUILDINGS[spec.house], Trace()
    driver: Any
    if spec.law in UNBUILDABLE:
        kinds = {"ideal": Ideal, "radiant": Radiant, "full": Full}
        driver = kinds[spec.law](building, spec.programme, spec.days, spec.seed, trace)
    else:
        driver = _regulated(spec, trace)
    simulate(building, weather_file(spec.weather), FIRST_DAY, spec.days, driver)
    return Run(trace.closed(), _notes(driver))


def _regulated(spec: Spec, trace: Trace) -> Any:
    from tests.bench.plant.faults import knobs
    from tests.bench.plant.regulated import Regulated
    from thermostatd.core.house import House

    known = knobs(spec.trouble)
    tables = house_tables(BUILDINGS[spec.house], spec.programme, spec.law, dict(spec.settings),
                          outdoor=known.outdoor, meter=known.meter, forecast=known.forecast)  # fmt: skip
    foretold = foretold_of(spec.weather) if known.forecast else None
    return Regulated(BUILDINGS[spec.house], House.model_validate(tables), spec.seed, trace, known, foretold)


def foretold_of(weather: str) -> Any:
    """The engine's own weather file, told an hour at a time and without error; it plays by the file's standard time."""
    from tests.bench.plant.engine import weather_file
    from thermostatd.rehearsal.epw import EpwWeather, read_epw
    from thermostatd.rehearsal.nature import Foretold

    year = read_epw(weather_file(weather))
    begins = datetime(FIRST_DAY.year, FIRST_DAY.month, FIRST_DAY.day, tzinfo=UTC) - timedelta(
        hours=year.zone_hours
    )
    return Foretold(EpwWeather(year, begins))


def _notes(driver: Any) -> dict[str, Any]:
    if not hasattr(driver, "fits"):
        return {}
    steps = sorted(driver.step_seconds)
    return {
        "fit_seconds": driver.fits.seconds,
        "learned": driver.fits.learned,
        "step_seconds_median": steps[len(steps) // 2],
        "step_seconds_mean": sum(steps) / len(steps),
        "told": driver.told,
    }


def main() -> None:
    """`python -m tests.bench.plant.run SPEC TRACE NOTES`: what `run` starts."""
    spec, path, notes = json.loads(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3])
    spec["settings"] = tuple(tuple(one) for one in spec["settings"])
    made = simulate_here(Spec(**spec))
    made.trace.save(path)
    partial = notes.with_suffix(".partial")
    partial.write_text(json.dumps(made.notes))
    partial.replace(notes)


if __name__ == "__main__":
    main()
