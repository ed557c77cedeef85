"""Brings a kept folder of mutants to what is committed now: python -m tests.mutation.again FROM FOLDER

Rules: a file is copied only where it differs, so that mutmut makes anew only the functions that changed; where a test
or the choice of modules changed, what had survived meets the tests again; what was killed stays killed.
"""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from tests.mutation.compare import ALIVE, NOT_RUN

KEPT = "mutants"  # mutmut's own folder


def files_in(folder: Path) -> set[Path]:
    """All files of a folder but mutmut's own, relative to it."""
    return {
        path.relative_to(folder)
        for path in folder.rglob("*")
        if path.is_file() and path.relative_to(folder).parts[0] != KEPT and "__pycache__" not in path.parts
    }


def bring(source: Path, folder: Path) -> set[Path]:
    """Make `folder` hold what `source` holds; the files that differed."""
    here, there = files_in(source), files_in(folder)
    changed = {
        path
        for path in here
        if path not in there or (source / path).read_bytes() != (folder / path).read_bytes()
    }
    for path in changed:
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source / path, folder / path)  # with a new time, which is what mutmut goes by
    for path in there - here:
        (folder / path).unlink()
        (folder / KEPT / path).unlink(missing_ok=True)
        (folder / KEPT / f"{path}.meta").unlink(missing_ok=True)
    return changed | (there - here)


def metas(folder: Path) -> Iterator[tuple[Path, dict[str, dict[str, int | None]]]]:
    """What mutmut keeps of each module; what was cut off in the middle of writing is begun anew."""
    for path in sorted((folder / KEPT).rglob("*.py.meta")):
        try:
            yield path, json.loads(path.read_text())
        except ValueError:
            path.unlink()
            path.with_suffix("").unlink(missing_ok=True)


def forget_copies(folder: Path) -> None:
    """Take away modules that mutmut only copied: it would not see that it is to mutate them from now on."""
    copies = [
        path for path in (folder / KEPT).rglob("*.py") if path.relative_to(folder / KEPT).parts[0] != "tests"
    ]
    for path in copies:
        if not path.with_name(path.name + ".meta").exists():
            path.unlink()


def meet_again(folder: Path) -> None:
    """Survivors are to be run once more."""
    for path, meta in metas(folder):
        codes = meta["exit_code_by_key"]
        meta["exit_code_by_key"] = {name: NOT_RUN if code in ALIVE else code for name, code in codes.items()}
        path.write_text(json.dumps(meta, indent=4))


def main(source: str, folder: str) -> int:
    """0: it is as what is committed."""
    there = Path(folder)
    there.mkdir(parents=True, exist_ok=True)
    changed = bring(Path(source), there)
    list(metas(there))
    if Path("pyproject.toml") in changed:
        forget_copies(there)
        meet_again(there)
    elif any(path.parts[0] == "tests" and path.suffix != ".md" for path in changed):
        meet_again(there)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
