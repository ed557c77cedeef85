"""The table of OWASP ASVS 5.0 in tests/asvs.md: each row is held by tests that are really collected."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TABLE = (ROOT / "tests" / "asvs.md").read_text()
ROWS = re.findall(r"^\| (\d+\.\d+\.\d+) \| ([^|]+) \| ([^|]+) \|$", TABLE, re.MULTILINE)
NAMED = sorted({name for row in ROWS for name in re.findall(r"`([\w/]+\.py::\w+)`", row[2])})


@pytest.fixture(scope="module")
def collected() -> set[str]:
    """The ids, without parameters, of all tests in the files that the table names; those of the night too."""
    files = sorted({f"tests/{name.partition('::')[0]}" for name in NAMED})
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-m", "night or not night", *files]
    said = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=110, check=False)
    assert said.returncode == 0, said.stdout[-2000:] + said.stderr[-2000:]
    return {
        line.partition("[")[0].removeprefix("tests/") for line in said.stdout.splitlines() if "::" in line
    }


def test_every_row_is_read_and_stands_once() -> None:
    """No row of the table is written so that it would be passed over, and none stands twice."""
    ids = [row[0] for row in ROWS]
    assert len(ids) == len(re.findall(r"^\| \d", TABLE, re.MULTILINE)) >= 90
    assert len(set(ids)) == len(ids)
    assert ids == sorted(ids, key=lambda one: [int(part) for part in one.split(".")])


def test_every_row_names_a_test_or_a_reason() -> None:
    """A row without a test says that it cannot apply, and why."""
    for number, _, held in ROWS:
        assert "`" in held or held.startswith("cannot apply: "), number


def test_every_named_test_is_collected(collected: set[str]) -> None:
    """A test that was renamed or taken away takes its row along."""
    assert not [name for name in NAMED if name not in collected]


def test_the_night_audits_what_is_shipped() -> None:
    """The night runs the audit over the locked versions, and an audit that could not look is no clean one."""
    assert re.search(r"^python \.ci/audit ", (ROOT / ".ci" / "night").read_text(), re.MULTILINE)

    from runpy import run_path

    verdict = run_path(str(ROOT / ".ci" / "audit"))["verdict"]
    clean = {"name": "a", "version": "1", "vulns": []}
    bad = {"name": "b", "version": "2", "vulns": [{"id": "X-1", "fix_versions": ["3"]}]}
    assert verdict([clean]) == (0, "1 packages, no known vulnerability")
    assert verdict([clean, bad])[0] == 1
    assert "b 2: X-1 (mended in 3)" in verdict([clean, bad])[1]
    assert verdict([clean, {"name": "c", "skip_reason": "not found"}])[0] == 3
    assert "NOT AUDITED" in verdict([{"name": "c", "skip_reason": "not found"}])[1]
