"""The watch on the house file, on a real disk."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from thermostatd.edge.house_watch import changes_of


async def _seen(file: Path, doing: list[Callable[[], object]]) -> list[float]:
    """How long after each deed a change was told, s; each deed is waited for."""
    stop, told = asyncio.Event(), asyncio.Queue[None]()

    async def watch() -> None:
        async for _ in changes_of(file, stop):
            told.put_nowait(None)

    watching = asyncio.create_task(watch())
    await asyncio.sleep(0.3)
    found = []
    clock = asyncio.get_running_loop().time
    for deed in doing:
        began = clock()
        deed()
        await asyncio.wait_for(told.get(), 5)
        found.append(clock() - began)
        await asyncio.sleep(0.3)
    stop.set()
    await asyncio.wait_for(watching, 5)
    return found


def _swap(file: Path, text: str) -> None:
    new = file.with_suffix(".new")
    new.write_text(text)
    os.replace(new, file)


def test_every_way_of_saving_is_seen(tmp_path: Path) -> None:
    """A new file in its place, again and again; in place; gone; back: each is told within two seconds."""
    file = tmp_path / "house.toml"
    file.write_text("1")
    deeds = [lambda n=n: _swap(file, "x" * n) for n in (2, 3, 4)]
    after = asyncio.run(
        _seen(file, [*deeds, lambda: file.write_text("12345"), file.unlink, lambda: file.write_text("1")])
    )
    assert max(after) < 2.0


def test_a_link_and_a_folder_that_goes_away(tmp_path: Path) -> None:
    """A file behind a link to another folder, and one whose whole folder is exchanged, are seen too."""
    real = tmp_path / "elsewhere.toml"
    real.write_text("1")
    folder = tmp_path / "etc"
    folder.mkdir()
    (folder / "house.toml").symlink_to(real)

    def exchange() -> None:
        folder.rename(tmp_path / "old")
        folder.mkdir()
        (folder / "house.toml").write_text("another")

    assert max(asyncio.run(_seen(folder / "house.toml", [lambda: real.write_text("22"), exchange]))) < 3.0


def test_other_files_are_left_alone(tmp_path: Path) -> None:
    """What else happens in the folder is no change of the file."""
    file = tmp_path / "house.toml"
    file.write_text("1")
    with pytest.raises(TimeoutError):
        asyncio.run(asyncio.wait_for(_seen(file, [lambda: (tmp_path / "other").write_text("1")]), 2.0))
