"""Holds what mutmut found against the survivors that are known: python -m tests.mutation.compare FOLDER [--write]

Rules: a survivor that survivors.md does not list, with the reason it is harmless, is a hole in the tests; so is a
score under 90 %. A survivor is known by its function and by the lines it changes, so that numbers may move.
What ran out of time counts as killed; what no test reaches counts as alive; what was not run yet counts for nothing,
but is told. `--write` prints the unknown ones as they are listed.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

KNOWN = Path(__file__).with_name("survivors.md")
LEAST_SHARE = 0.9
ALIVE = (0, 5, 33)
NOT_RUN = None
_ENTRY = re.compile(r"^- `(.+)`$")


def listed(lines: Iterable[str]) -> Iterator[str]:
    """The survivors that a list names: a function in backticks, and its changed lines indented under it."""
    found: list[str] = []
    for line in lines:
        entry = _ENTRY.match(line.rstrip())
        if entry or (found and not line.startswith("    ")):
            if found:
                yield "\n".join(found)
            found = [entry[1]] if entry else []
        elif found:
            found.append(line.strip())
    if found:
        yield "\n".join(found)


def name_of(mutant: str, diff: str) -> str:
    """What a mutant is known by: its function, the lines it takes away and those it puts there."""
    module, _, function = mutant.removeprefix("thermostatd.core.").rpartition(".")
    plain = function.partition("__mutmut_")[0].removeprefix("x_").removeprefix("xǁ").replace("ǁ", ".")
    lines = [line for line in diff.splitlines() if line[:1] in "+-" and not line.startswith(("+++", "---"))]
    return "\n".join([f"{module}.{plain}", *(f"{line[0]} {' '.join(line[1:].split())}" for line in lines)])


def judged(
    counts: Mapping[str, tuple[int, int]], alive: Iterable[str], known: Iterable[str]
) -> tuple[str, list[str]]:
    """The table of scores, and the survivors that nobody knows. `counts` is killed and all, by module."""
    rows = [
        f"{module:44} {killed:5} of {every:5}  {100 * killed / every:5.1f} %"
        for module, (killed, every) in counts.items()
    ]
    killed, every = (sum(count[n] for count in counts.values()) for n in (0, 1))
    rows.append(f"{'all':44} {killed:5} of {every:5}  {100 * killed / max(every, 1):5.1f} %")
    return "\n".join(rows), sorted(set(alive) - set(known))


def found_in(folder: Path) -> tuple[dict[str, tuple[int, int]], list[str], int]:
    """Killed and all by module, what is alive, and how many were not run, of mutmut's `mutants` in that folder."""
    from mutmut.mutation.diff_apply import get_diff_for_mutant

    os.chdir(folder)
    counts: dict[str, tuple[int, int]] = {}
    alive, not_run = [], 0
    for meta in sorted(Path("mutants").rglob("*.py.meta")):
        source = Path(*meta.parts[1:]).with_suffix("")
        for mutant, code in json.loads(meta.read_text())["exit_code_by_key"].items():
            if code is NOT_RUN:
                not_run += 1
                continue
            module = mutant.rpartition(".")[0].removeprefix("thermostatd.")
            killed, every = counts.get(module, (0, 0))
            counts[module] = (killed + (code not in ALIVE), every + 1)
            if code in ALIVE:
                alive.append(name_of(mutant, get_diff_for_mutant(mutant, path=source)))
    return counts, alive, not_run


def main(folder: str, *options: str) -> int:
    """0 where all were run, the score is met and every survivor is known."""
    known = list(listed(KNOWN.read_text().splitlines()))
    counts, alive, not_run = found_in(Path(folder))
    table, unknown = judged(counts, alive, known)
    if "--write" not in options:
        print(table)
        harmless = sum(one in known for one in alive)
        print(f"{len(alive)} alive, {harmless} of them known to be harmless; {not_run} not run")
    for one in unknown:
        function, *changes = one.splitlines()
        print(f"- `{function}`", *(f"      {change}" for change in changes), sep="\n")
    killed, every = (sum(count[n] for count in counts.values()) for n in (0, 1))
    return int(bool(unknown) or bool(not_run) or killed < LEAST_SHARE * every)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
