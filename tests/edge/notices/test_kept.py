"""What was told is kept in a real store: a restart tells nothing twice, and what ended meanwhile is still told."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest

from tests.edge.notices.test_letters import HOUR, NIGHT, NOON, Sink, _trouble, sink
from tests.parts.mosquitto import wait_until
from thermostatd.core.house import House
from thermostatd.edge.notices import Notices
from thermostatd.edge.notices.kept import GRACE_SECONDS
from thermostatd.edge.store import Store

__all__ = ["sink"]


class Life:
    """One life of the program: notices over a store, at a steady second that the test moves."""

    def __init__(self, folder: Path, sink: Sink, steady: float, table: dict[str, object]) -> None:
        self.store, self.steady, self.local = Store.open(folder, lambda: 0.0), steady, NOON
        (folder / "addresses").write_text(sink.address + "\n")
        house = House.model_validate({"notices": {"addresses_file": str(folder / "addresses"), **table}})
        self.notices = Notices(
            house, waits_seconds=(0.1,), now=lambda: self.steady, local=lambda: self.local,
            kept=self.store.load_told(), keep=self.store.keep_told,
        )  # fmt: skip

    def tell(self, *troubles: object, at: float, local: datetime = NOON) -> None:
        """One tick."""
        self.steady, self.local = at, local
        self.notices.tell(troubles)  # type: ignore[arg-type]


@contextmanager
def life(folder: Path, sink: Sink, steady: float, **table: object) -> Iterator[Life]:
    """A life, ended in good order."""
    found = Life(folder, sink, steady, table)
    yield found
    found.notices.close()
    found.store.close()


def test_a_restart_tells_nothing_twice(tmp_path: Path, sink: Sink) -> None:
    """The same trouble after a restart is no news, though the first checks had not found it again; its end is."""
    with life(tmp_path, sink, 0.0) as one:
        one.tell(_trouble(), at=10.0)
        assert wait_until(lambda: len(sink.titles) == 1)
    with life(tmp_path, sink, 60.0) as other:
        other.tell(at=60.0)
        other.tell(_trouble(), at=300.0)
        other.tell(_trouble(), at=GRACE_SECONDS + 1000)
        other.tell(at=GRACE_SECONDS + 5000)
        assert wait_until(lambda: len(sink.titles) == 2)
    assert sink.titles[1].endswith(": over")


def test_what_ended_while_it_was_down_is_told(tmp_path: Path, sink: Sink) -> None:
    """A trouble that is not found again within the time of grace is over, and said so once."""
    with life(tmp_path, sink, 0.0) as one:
        one.tell(_trouble(), at=10.0)
        assert wait_until(lambda: len(sink.titles) == 1)
    with life(tmp_path, sink, 60.0) as other:
        for at in (60.0, 60.0 + GRACE_SECONDS, 120.0 + GRACE_SECONDS):
            other.tell(at=at)
        assert wait_until(lambda: len(sink.titles) == 2)
    with life(tmp_path, sink, 5000.0) as third:
        third.tell(at=9000.0)
    assert [title.rpartition(": ")[2] for title in sink.titles] == ["silent-plug", "over"]


def test_one_reminder_whatever_restarts(tmp_path: Path, sink: Sink) -> None:
    """What nobody has seen reminds once, by the hours since it was first told, and not again in a later life."""
    with life(tmp_path, sink, 0.0, remind_after="6 h") as one:
        one.tell(_trouble(), at=10.0)
    with life(tmp_path, sink, 2 * HOUR, remind_after="6 h") as other:
        other.tell(_trouble(), at=2 * HOUR)
        other.tell(_trouble(), at=6 * HOUR + 20.0)
        assert wait_until(lambda: len(sink.titles) == 2)
    with life(tmp_path, sink, 7 * HOUR, remind_after="6 h") as third:
        third.tell(_trouble(), at=20 * HOUR)
    assert [title.split(": ", 1)[1] for title in sink.titles] == ["silent-plug", "still: silent-plug"]


def test_what_waits_for_the_morning_survives(tmp_path: Path, sink: Sink) -> None:
    """A notice held back by quiet hours goes out in the morning, also after a restart in the night."""
    quiet = {"from": "22:00", "to": "07:00"}
    with life(tmp_path, sink, 0.0, quiet=quiet) as one:
        one.tell(_trouble(), at=10.0, local=NIGHT)
    with life(tmp_path, sink, 60.0, quiet=quiet) as other:
        other.tell(_trouble(), at=60.0, local=NIGHT)
        assert sink.titles == []
        other.tell(_trouble(), at=120.0, local=NOON)
        assert wait_until(lambda: len(sink.titles) == 1)


@pytest.mark.parametrize(
    "rubbish", ["{", "[]", '{"told": {"a": 1}}', '{"told": {}, "letters": {"known": 3}}']
)
def test_what_cannot_be_read_is_as_if_nothing_was_told(tmp_path: Path, sink: Sink, rubbish: str) -> None:
    """Rubbish in the store holds no notice back."""
    store = Store.open(tmp_path, lambda: 0.0)
    store.keep_told(rubbish)
    store.close()
    with life(tmp_path, sink, 0.0) as one:
        one.tell(_trouble(), at=10.0)
        assert wait_until(lambda: len(sink.titles) == 1)
