"""A kept folder of mutants goes on where it was."""

import json
from pathlib import Path

from tests.mutation.again import bring, main


def tree(folder: Path, **files: str) -> Path:
    """Files by their names, with two underscores for a slash."""
    for name, text in files.items():
        path = folder / name.replace("__", "/")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return folder


def codes(folder: Path) -> dict[str, int | None]:
    """What mutmut knows of each mutant."""
    return json.loads((folder / "mutants/core/door.py.meta").read_text())["exit_code_by_key"]


def kept(folder: Path) -> Path:
    """A folder in which one mutant was killed, one survived and one was not run."""
    meta = json.dumps({"exit_code_by_key": {"core.door.x_a__mutmut_1": 1, "core.door.x_a__mutmut_2": 0,
                                            "core.door.x_b__mutmut_1": None}})  # fmt: skip
    tree(folder, core__door="1", tests__old="x", mutants__tests__old="x")
    return tree(folder, **{"mutants__core__door.py.meta": meta})


def test_only_what_differs_is_copied(tmp_path: Path) -> None:
    """A file that is the same keeps its time; one that is gone goes, in mutmut's copy too."""
    source = tree(tmp_path / "now", core__door="1", core__week="2")
    folder = kept(tmp_path / "kept")
    before = (folder / "core/door").stat().st_mtime_ns
    assert bring(source, folder) == {Path("core/week"), Path("tests/old")}
    assert (folder / "core/door").stat().st_mtime_ns == before
    assert (folder / "core/week").read_text() == "2"
    assert not (folder / "mutants/tests/old").exists()


def test_survivors_meet_tests_that_changed(tmp_path: Path) -> None:
    """What was killed stays so; where no test changed, what survived does too."""
    folder = kept(tmp_path / "kept")
    same = tree(tmp_path / "same", core__door="1", tests__old="x")
    assert main(str(same), str(folder)) == 0
    assert codes(folder)["core.door.x_a__mutmut_2"] == 0
    changed = tree(tmp_path / "changed", core__door="1", tests__old="y")
    assert main(str(changed), str(folder)) == 0
    assert codes(folder) == {
        "core.door.x_a__mutmut_1": 1, "core.door.x_a__mutmut_2": None, "core.door.x_b__mutmut_1": None
    }  # fmt: skip


def test_what_was_cut_off_in_writing_is_begun_anew(tmp_path: Path) -> None:
    """mutmut makes the module's mutants once more."""
    folder = kept(tmp_path / "kept")
    tree(folder, **{"mutants__core__door.py": "", "mutants__core__door.py.meta": '{"exit_code'})
    source = tree(tmp_path / "same", core__door="1", tests__old="x")
    assert main(str(source), str(folder)) == 0
    assert not (folder / "mutants/core/door.py").exists()
    assert not (folder / "mutants/core/door.py.meta").exists()


def test_a_module_that_is_chosen_anew_is_mutated(tmp_path: Path) -> None:
    """A copy that mutmut made of it goes, where what is to be mutated may have changed; the tests' copies stay."""
    folder = kept(tmp_path / "kept")
    tree(
        folder,
        **{"mutants__core__door.py": "1", "mutants__core__week.py": "2", "mutants__tests__test_a.py": ""},
    )
    source = tree(tmp_path / "now", core__door="1", tests__old="x", **{"pyproject.toml": "only_mutate"})
    assert main(str(source), str(folder)) == 0
    assert sorted(path.name for path in (folder / "mutants").rglob("*.py")) == ["door.py", "test_a.py"]
    assert codes(folder)["core.door.x_a__mutmut_2"] is None
