"""Which tests a mutant meets, and in which order: a plugin of pytest, loaded by .ci/mutate alone.

Rules: only pure tests (no real parts, no network); those that killed other mutants of the same module come first, then
the quickest; a mutant that outlives the budget of seconds counts as survived. Properties run fewer examples.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings

BUDGET_SECONDS = float(os.environ.get("THERMOSTATD_MUTANT_SECONDS", "12"))
KILLS = Path("killers.json")  # in mutmut's folder, where the tests run
STATS = Path("mutmut-stats.json")
TOO_SLOW = frozenset(Path(__file__).with_name("too_slow.txt").read_text().split())

settings.register_profile(
    "mutation",
    max_examples=15,
    database=None,
    derandomize=True,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
settings.load_profile("mutation")


def _mutant() -> str:
    name = os.environ.get("MUTANT_UNDER_TEST", "")
    return name if "__mutmut_" in name else ""


def _kills() -> dict[str, dict[str, int]]:
    try:
        return json.loads(KILLS.read_text())
    except (OSError, ValueError):
        return {}


def pytest_configure(config: pytest.Config) -> None:
    """A mutant's name does not change within one process; to look it up at each call costs most of the time."""
    name = _mutant()
    if name:
        from mutmut.mutation import trampoline

        trampoline.get_mutant_under_test = lambda: name


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Killers first, then the quickest, as far as the budget goes."""
    slow = [item for item in items if item.name.partition("[")[0] in TOO_SLOW]
    items[:] = [item for item in items if item not in slow]
    config.hook.pytest_deselected(items=slow)  # else mutmut waits for them to run
    name = _mutant()
    if not name:
        return
    module, _, function = name.rpartition(".")
    function = function.partition("__mutmut_")[0]
    kills = _kills()
    here, near = kills.get(f"{module}.{function}", {}), kills.get(module, {})
    took = json.loads(STATS.read_text())["duration_by_test"] if STATS.exists() else {}
    seconds = {item.nodeid: took.get(item.nodeid, 0.5) for item in items}
    items.sort(
        key=lambda item: (
            -here.get(item.nodeid, 0) / (0.05 + seconds[item.nodeid]),
            -near.get(item.nodeid, 0) / (0.05 + seconds[item.nodeid]),
            seconds[item.nodeid],
        )
    )
    spent, kept = 0.0, []
    for item in items:
        spent += seconds[item.nodeid]
        if spent > BUDGET_SECONDS and kept:
            break
        kept.append(item)
    items[:] = kept


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Keep which test killed, for the next mutants of that function and module."""
    name = _mutant()
    if not name or not report.failed:
        return
    module, _, function = name.rpartition(".")
    kills = _kills()
    for key in (module, f"{module}.{function.partition('__mutmut_')[0]}"):
        row = kills.setdefault(key, {})
        row[report.nodeid] = row.get(report.nodeid, 0) + 1
    KILLS.write_text(json.dumps(kills))
