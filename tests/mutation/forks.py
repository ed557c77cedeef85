"""Makes mutants (mutmut) and runs them, each in a fork of one process that has the tests collected.

`python tests/mutation/forks.py FOLDER MINUTES [PATTERN ...]`: FOLDER as tests.mutation.again brings it to what is
committed; MINUTES after which it ends, 0 for never; PATTERN of mutants, such as thermostatd.core.guard.*. Run by its
path, since `tests` has to be the folder's own package.

Rules: only pure tests, save those that too_slow.txt names; properties run fewer examples. A first pass runs each test
once on what is unmutated, and notes which functions it reaches and how long it takes; a mutant that was not run yet
meets those that reach its function, for at most so many seconds: first what costs the least for each kill, by what it
killed of that function so far, and what is in its module's own file counts as more likely to; what outlives them counts
as survived. What is found is written where mutmut keeps it, for tests.mutation.compare.
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
from collections.abc import Callable, Iterator, Sequence
from contextlib import redirect_stdout
from cProfile import Profile
from fnmatch import fnmatchcase
from math import inf
from pathlib import Path
from types import CodeType, FunctionType

import mutmut.__main__ as mutmut
import pytest
from hypothesis import HealthCheck, Phase, settings
from mutmut.mutation import trampoline

TESTS = (
    "tests/core",
    "--ignore=tests/core/test_regulator_machine.py",
    "--ignore=tests/core/test_regulator_properties.py",
    "--ignore=tests/core/circuits/test_houses.py",
)
UNUSED = (
    "terminal",
    "cacheprovider",
    "xdist",
    "warnings",
    "logging",
    "unraisableexception",
    "threadexception",
)
OPTIONS = ("-s", "--assert=plain", *(f"-pno:{name}" for name in UNUSED))
KILLED, ALIVE, UNREACHED, UNMADE = 1, 0, 33, 70
SAVE_EACH = 200
OWN_KILLS, OTHER_KILLS, OVERHEAD_SECONDS = 2.0, 0.3, 0.002
BUDGET_SECONDS = float(os.environ.get("THERMOSTATD_MUTANT_SECONDS", "12"))
ENDLESS_SECONDS, ENDLESS_TIMES = 3.0, 10.0  # a test that takes so many times as long as it did never ends
SLOW = frozenset(Path(__file__).with_name("too_slow.txt").read_text().split())

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


def generate() -> None:
    """Make the mutants of the folder that this is in; functions that are as they were keep what was found of theirs."""
    trampoline.set_mutant_under_test("mutant_generation")
    Path("mutants").mkdir(exist_ok=True)
    mutmut.copy_src_dir()
    mutmut.copy_also_copy_files()
    mutmut.setup_source_paths()
    mutmut.create_mutants(1)


class Metas:
    """What mutmut keeps of each module's mutants."""

    def __init__(self, patterns: Sequence[str]) -> None:
        self._patterns = patterns or ("*",)
        paths = [path.absolute() for path in sorted(Path("mutants").rglob("*.py.meta"))]
        self._known = {path: json.loads(path.read_text()) for path in paths}

    def left(self) -> list[tuple[str, dict[str, int | None]]]:
        """The mutants that match and were not run, pattern by pattern, each with its module's row of codes."""
        rows = [
            (name, known["exit_code_by_key"])
            for known in self._known.values()
            for name, code in known["exit_code_by_key"].items()
            if code is None
        ]
        found = {row[0]: row for one in self._patterns for row in rows if fnmatchcase(row[0], one)}
        return list(found.values())

    def save(self) -> None:
        """Write all."""
        for path, known in self._known.items():
            path.write_text(json.dumps(known, indent=4))


class Forks:
    """The plugin that takes the place of pytest's own loop."""

    def __init__(self, metas: Metas, minutes: float, bodies: Bodies) -> None:
        self.metas, self.bodies = metas, bodies
        self.ends = time.monotonic() + 60.0 * minutes if minutes else inf
        self.failed, self.tells = False, None
        self.seconds: dict[str, float] = {}
        self.reaching: dict[str, list[pytest.Item]] = defaultdict(list)
        self.kills: dict[str, Counter[str]] = defaultdict(Counter)

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """What takes seconds is left out."""
        items[:] = [item for item in items if item.name.partition("[")[0] not in SLOW]

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_makereport(self, item: pytest.Item, call: pytest.CallInfo[None]) -> None:
        """Whether a test failed is all that counts: in a fork nobody waits for why."""
        if call.excinfo is not None and not call.excinfo.errisinstance(pytest.skip.Exception):
            self.failed = True
            if self.tells is not None:
                os.write(self.tells, item.nodeid.encode())
                os._exit(1)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """The first pass, then each mutant in a fork."""
        self._learn(session.items)
        gc.collect()
        gc.freeze()  # else each fork's collector would copy all that was collected here
        for count, (name, codes) in enumerate(self.metas.left()):
            if time.monotonic() > self.ends:
                break
            function = name.partition("__mutmut_")[0]
            items = self._ordered(function)
            codes[name] = self._run(items, name, function) if items else UNREACHED
            if count % SAVE_EACH == 0:
                self.metas.save()
        return True

    def _learn(self, items: list[pytest.Item]) -> None:
        """In a fork too, so that nothing that the module keeps by itself reaches the mutants."""
        with tempfile.NamedTemporaryFile("r") as found:
            if not os.fork():
                self._first_pass(items, Path(found.name))
            os.wait()
            known = json.loads(found.read() or "{}")
        if len(known) != len(items):
            sys.exit("the tests fail on what is unmutated: no mutant was run")
        for item in items:
            self.seconds[item.nodeid], functions = known[item.nodeid]
            for function in functions:
                self.reaching[function].append(item)

    def _first_pass(self, items: list[pytest.Item], found: Path) -> None:
        caches = [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)]
        functions, known = self.bodies.functions(), {}
        for item in items:
            for cache in caches:
                cache.cache_clear()  # else only the first test would be seen to reach what is kept
            calls, begun = Profile(), time.perf_counter()
            calls.enable()
            _protocol(item, None)
            calls.disable()
            reached = {functions[one.code] for one in calls.getstats() if one.code in functions}
            if not self.failed:
                known[item.nodeid] = (time.perf_counter() - begun, sorted(reached))
        found.write_text(json.dumps(known))
        os._exit(0)

    def _ordered(self, function: str) -> list[pytest.Item]:
        kills, spent, kept = self.kills[function], 0.0, []
        module = function.split(".")[-2]

        def seconds_a_kill(one: pytest.Item) -> float:
            own = OWN_KILLS if module in one.path.stem else OTHER_KILLS
            return (self.seconds[one.nodeid] + OVERHEAD_SECONDS) / (kills[one.nodeid] + own)

        for item in sorted(self.reaching[function], key=seconds_a_kill):
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
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        if code == UNMADE:
            sys.exit(f"{name} could not be put in the place of its function")
        self.kills[function].update([killer] if killer else [])
        return KILLED if code else ALIVE

    def _meet(self, items: list[pytest.Item], name: str, tells: int) -> None:
        """In the fork: 0 where every test passes."""
        try:
            gc.disable()
            self.tells = tells
            nothing = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nothing, 1)
            os.dup2(nothing, 2)
            if not self.bodies.become(name):
                os._exit(UNMADE)
            for item, after in zip(items, [*items[1:], None], strict=True):
                longest = ENDLESS_SECONDS + ENDLESS_TIMES * self.seconds[item.nodeid]
                signal.setitimer(signal.ITIMER_PROF, longest)  # of its own time; nobody else uses this timer
                _protocol(item, after)
            os._exit(0)
        except BaseException:
            os._exit(1)


class Bodies:
    """In the place of mutmut's own wrapper, which costs every call: a mutant's code is put into the function itself."""

    def __init__(self) -> None:
        self._known: list[tuple[FunctionType, dict[str, Callable[..., object]]]] = []

    def wrap(
        self, mutants: dict[str, Callable[..., object]], **_: object
    ) -> Callable[[FunctionType], FunctionType]:
        """The function as it is; `mutants` is filled once its module is read."""

        def keep(function: FunctionType) -> FunctionType:
            self._known.append((function, mutants))
            return function

        return keep

    def functions(self) -> dict[CodeType, str]:
        """Each function that has mutants, as they are named."""
        return {
            function.__code__: f"{function.__module__}.{next(iter(mutants)).partition('__mutmut_')[0]}"
            for function, mutants in self._plain()
        }

    def become(self, name: str) -> bool:
        """Be that mutant from now on; False where it cannot be."""
        module, _, mutant = name.rpartition(".")
        for function, mutants in self._plain():
            if function.__module__ == module and mutant in mutants:
                other = getattr(mutants[mutant], "__func__", mutants[mutant])
                if len(function.__code__.co_freevars) != len(other.__code__.co_freevars):
                    return False
                function.__code__, function.__defaults__ = other.__code__, other.__defaults__
                function.__kwdefaults__ = other.__kwdefaults__
                return True
        return False

    def _plain(self) -> Iterator[tuple[FunctionType, dict[str, Callable[..., object]]]]:
        for function, mutants in self._known:
            others = {name: one for name, one in mutants.items() if name != "_mutmut_orig"}
            if others:
                yield function, others


def _protocol(item: pytest.Item, after: pytest.Item | None) -> None:
    item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)


def main(folder: str, minutes: str, *patterns: str) -> int:
    """0 where it came to an end of its own."""
    os.chdir(folder)
    with redirect_stdout(io.StringIO()):  # it names each file
        generate()
    metas, bodies = Metas(patterns), Bodies()
    trampoline.wrap_in_trampoline = bodies.wrap
    os.chdir("mutants")
    sys.path.insert(0, os.getcwd())
    sys.dont_write_bytecode = True
    try:
        if metas.left():
            pytest.main([*OPTIONS, *TESTS], plugins=[Forks(metas, float(minutes), bodies)])
    finally:
        metas.save()
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
