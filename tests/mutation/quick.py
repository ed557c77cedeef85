"""Runs a module's mutants in forks of one process that has its tests collected, which takes a tenth of the time.

`python tests/mutation/quick.py FOLDER MODULE [TEST ...]`: FOLDER as .ci/mutate keeps it (tests.mutation.again brings it
to what is committed); MODULE such as core.pace; the tests are tests/core unless named. Run by its path, since `tests`
has to be the folder's own package.

Rules: a first pass runs each test once on the unmutated module, and notes which functions the test reaches and how long
it takes; a mutant meets those that reach its function, what killed others of it first, then the quickest, for at most
so many seconds. What is found is written where mutmut keeps it, so that tests.mutation.compare reads both alike.
"""

from __future__ import annotations

import functools
import gc
import io
import json
import os
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from contextlib import redirect_stdout
from pathlib import Path

import mutmut.__main__ as mutmut
import pytest
from mutmut.mutation import trampoline

KILLED, ALIVE, UNREACHED = 1, 0, 33
BUDGET_SECONDS = float(os.environ.get("THERMOSTATD_MUTANT_SECONDS", "12"))
ENDLESS_SECONDS = 90
SLOW = frozenset(Path(__file__).with_name("too_slow.txt").read_text().split())


def generate() -> None:
    """Make the mutants of the folder that this is in; functions that are as they were keep what was found of theirs."""
    trampoline.set_mutant_under_test("mutant_generation")
    Path("mutants").mkdir(exist_ok=True)
    mutmut.copy_src_dir()
    mutmut.copy_also_copy_files()
    mutmut.setup_source_paths()
    mutmut.create_mutants(1)


class Quick:
    """The plugin that takes the place of pytest's own loop."""

    def __init__(self, mutants: list[str]) -> None:
        self.mutants = mutants
        self.codes: dict[str, int] = {}
        self.failed = False
        self.seconds: dict[str, float] = {}
        self.reaching: dict[str, list[pytest.Item]] = defaultdict(list)
        self.kills: dict[str, Counter[str]] = defaultdict(Counter)

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """What takes seconds is for mutmut's own run."""
        items[:] = [item for item in items if item.name.partition("[")[0] not in SLOW]

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Whether a test failed is all that counts."""
        self.failed |= report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """The first pass, then each mutant in a fork."""
        self._learn(session.items)
        for name in self.mutants:
            function = name.partition("__mutmut_")[0]
            items = self._ordered(function)
            self.codes[name] = self._run(items, name, function) if items else UNREACHED
        return True

    def _learn(self, items: list[pytest.Item]) -> None:
        """In a fork too, so that nothing that the module keeps by itself reaches the mutants."""
        with tempfile.NamedTemporaryFile("r") as found:
            if not os.fork():
                self._first_pass(items, Path(found.name))
            os.wait()
            known = json.loads(found.read() or "{}")
        if len(known) != len(items):
            sys.exit("the tests fail on the module as it is")
        for item in items:
            self.seconds[item.nodeid], functions = known[item.nodeid]
            for function in functions:
                self.reaching[function].append(item)

    def _first_pass(self, items: list[pytest.Item], found: Path) -> None:
        reached: set[str] = set()
        trampoline.record_trampoline_hit = lambda name, caller=None: reached.add(name)
        trampoline.set_mutant_under_test("stats")
        caches = [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)]
        known = {}
        for item in items:
            reached.clear()
            for cache in caches:
                cache.cache_clear()  # else only the first test would be seen to reach what is kept
            begun = time.perf_counter()
            _protocol(item, None)
            if not self.failed:
                known[item.nodeid] = (time.perf_counter() - begun, sorted(reached))
        found.write_text(json.dumps(known))
        os._exit(0)

    def _ordered(self, function: str) -> list[pytest.Item]:
        kills, spent, kept = self.kills[function], 0.0, []
        items = self.reaching[function]
        for item in sorted(items, key=lambda one: (-kills[one.nodeid], self.seconds[one.nodeid])):
            spent += self.seconds[item.nodeid]
            if spent > BUDGET_SECONDS and kept:
                break
            kept.append(item)
        return kept

    def _run(self, items: list[pytest.Item], name: str, function: str) -> int:
        told, tells = os.pipe()
        child = os.fork()
        if not child:
            self._meet(items, name, tells)
        os.close(tells)
        killer = os.read(told, 4096).decode()
        os.close(told)
        _, status = os.waitpid(child, 0)
        self.kills[function].update([killer] if killer else [])
        return KILLED if os.waitstatus_to_exitcode(status) else ALIVE

    def _meet(self, items: list[pytest.Item], name: str, tells: int) -> None:
        """In the fork: 0 where every test passes."""
        try:
            signal.alarm(ENDLESS_SECONDS)
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, 1)
            os.dup2(nothing, 2)
            trampoline.get_mutant_under_test = lambda: name
            for item, after in zip(items, [*items[1:], None], strict=True):
                _protocol(item, after)
                if self.failed:
                    os.write(tells, item.nodeid.encode())
                    os._exit(1)
            os._exit(0)
        except BaseException:
            os._exit(1)


def _protocol(item: pytest.Item, after: pytest.Item | None) -> None:
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)


def main(folder: str, module: str, *tests: str) -> int:
    """0 once each mutant of the module was run."""
    os.chdir(folder)
    with redirect_stdout(io.StringIO()):  # it names each file
        generate()
    meta = Path("mutants/thermostatd", *module.split(".")).with_suffix(".py.meta").absolute()
    known = json.loads(meta.read_text())
    os.chdir("mutants")
    sys.path.insert(0, os.getcwd())
    sys.dont_write_bytecode = True
    quick = Quick(list(known["exit_code_by_key"]))
    options = ("-p", "no:terminal", "-p", "no:cacheprovider", "-p", "no:xdist")
    pytest.main([*options, *(tests or ("tests/core",))], plugins=[quick])
    known["exit_code_by_key"] |= quick.codes
    meta.write_text(json.dumps(known, indent=4))
    killed = sum(code == KILLED for code in quick.codes.values())
    print(f"{module:34} {killed:5} of {len(quick.codes):5}")
    return int(len(quick.codes) != len(quick.mutants))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
