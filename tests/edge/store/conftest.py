"""A store with a clock that is a number, and a small real disk that can be filled or made read-only."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from thermostatd.edge.store import RequestRow, Stamp, Store

NOON = datetime(2026, 1, 15, 12, 0, tzinfo=UTC)  # invented


class Steady:
    """Steady seconds that a test adds to."""

    seconds = 1000.0

    def __call__(self) -> float:
        return self.seconds


def stamp(steady: float = 1000.0) -> Stamp:
    """A stamp of an invented boot."""
    return Stamp("boot-a", 50.0, steady, NOON.isoformat())


def request(number: int, answer: str = "20.5 until 18:00") -> RequestRow:
    """An invented request, told apart by its number."""
    wall = NOON + timedelta(seconds=number)
    return RequestRow(wall, float(number), "ask", "study", 20.5, NOON, "Ana", "phone", answer, None, "usual")


@pytest.fixture
def steady() -> Steady:
    return Steady()


@pytest.fixture
def opened(steady: Steady) -> Iterator[Callable[[Path], Store]]:
    """Opens stores and closes them all at the end."""
    stores: list[Store] = []

    def open_one(folder: Path) -> Store:
        stores.append(Store.open(folder, steady))
        return stores[-1]

    yield open_one
    for store in stores:
        store.close()


class Disk:
    """A real file system of 1 MiB."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fill(self) -> None:
        """Take all the space that is left."""
        with (self.folder / "filler").open("ab", buffering=0) as file:
            for size in (4096, 512, 1):
                try:
                    while file.write(b"x" * size) == size:
                        pass
                except OSError:
                    continue

    def free(self) -> None:
        """Give it back."""
        (self.folder / "filler").unlink()

    def remount(self, how: str) -> None:
        """Read-only ("ro") or writable ("rw")."""
        subprocess.run(["mount", "-o", f"remount,{how}", str(self.folder)], check=True)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    folder = tmp_path / "disk"
    folder.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(folder)],
        capture_output=True,
        text=True,
        check=False,
    )
    if made.returncode:
        pytest.skip(f"no small disk can be mounted here: {made.stderr.strip()}")
    yield Disk(folder)
    subprocess.run(["umount", "-l", str(folder)], check=True)
