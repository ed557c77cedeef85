"""The example package, installed as any other."""

from __future__ import annotations

import importlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).resolve().parents[2] / "parts" / "example_plugs"


@pytest.fixture(scope="session")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder into which pip installed the example package."""
    target = tmp_path_factory.mktemp("packages")
    # hatchling comes with the tests' own needs: nothing is fetched
    words = [
        "-m",
        "pip",
        "install",
        "-q",
        "--no-index",
        "--no-deps",
        "--no-build-isolation",
        "--target",
        str(target),
    ]
    subprocess.run([sys.executable, *words, str(EXAMPLE)], check=True, timeout=60)
    return target


@pytest.fixture
def example_package(installed: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The example package can be found."""
    monkeypatch.syspath_prepend(str(installed))
    importlib.invalidate_caches()
    yield
    sys.modules.pop("example_plugs", None)
