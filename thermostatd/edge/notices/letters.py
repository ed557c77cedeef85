"""Which letters the owner is sent: a trouble begins, still holds, is over.

Rules: the tick only says what holds; a trouble is told when it begins, once more if nobody has looked at it for a
while, and when it ends; the same one coming back within an hour is not told again; in quiet hours only loud ones go
out, the rest waits until they end. post.py delivers them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import datetime
from typing import Any

from thermostatd.core.house import Notices as Table
from thermostatd.core.house.tables import Asleep
from thermostatd.core.results import Trouble
from thermostatd.edge.notices.outbox import MOST_WAITING
from thermostatd.edge.notices.owed import Owed
from thermostatd.edge.notices.post import Letter, Post

AGAIN_SECONDS = 3600.0
WAITS_SECONDS = (5.0, 60.0, 300.0)


@dataclass
class _Known:
    """What was told of one trouble that holds."""

    trouble: Trouble
    since: float
    reminded: bool = False


class Letters:
    """`tell` is called by each tick with the steady second and the house's own time."""

    def __init__(
        self,
        house: str,
        table: Table,
        addresses: Sequence[str],
        waits_seconds: Sequence[float] = WAITS_SECONDS,
    ) -> None:
        """AddressError where an address is none, or the library is not installed."""
        self._house, self._table = house, table
        self._known: dict[str, _Known] = {}
        self._ended: dict[str, float] = {}
        self._held: list[Letter] = []
        self._owed = Owed()
        self._post = Post(addresses, waits_seconds, self._owed)

    def plain(self) -> dict[str, Any]:
        """What was told, JSON-able; troubles by their ids alone."""
        return {
            "known": {key: [one.since, one.reminded] for key, one in self._known.items()},
            "ended": self._ended,
            "held": [astuple(letter) for letter in self._held],
            "owed": self._owed.plain(),
        }

    def resume(self, kept: Mapping[str, Any], troubles: Mapping[str, Trouble]) -> None:
        """Go on where an earlier life left off, by its `plain`. KeyError, TypeError, ValueError for what is none."""
        self._known = {
            key: _Known(troubles[key], float(since), bool(reminded))
            for key, (since, reminded) in kept.get("known", {}).items()
            if key in troubles
        }
        self._ended = {key: float(at) for key, at in kept.get("ended", {}).items()}
        self._held = [Letter(*letter) for letter in kept.get("held", [])]
        self._owed.resume(kept.get("owed", {}))

    def take_over(self, other: Letters) -> None:
        """Go on where another left off: what it told is not told again."""
        self._known, self._ended, self._held = other._known, other._ended, other._held
        self._owed.resume({key: [since, ()] for key, (since, _) in other._owed.plain().items()})

    def tell(self, troubles: Sequence[Trouble], steady: float, local: datetime) -> None:
        """All troubles that hold now; returns at once."""
        letters = [*self._gone(troubles, steady), *self._new(troubles, steady), *self._unseen(steady)]
        quiet = in_quiet(self._table.quiet, local)
        letters += self._undelivered(steady, quiet, {letter.about for letter in letters})
        self._held += [letter for letter in letters if quiet and not letter.loud]
        now = [letter for letter in letters if letter.loud or not quiet]
        if not quiet and self._held:
            now, self._held = [*self._held[-MOST_WAITING:], *now], []
        for letter in now:
            if letter.about in self._known:
                self._owed.handed(letter.about, steady)
        if now:
            self._post.hand_over(now)

    def _undelivered(self, steady: float, quiet: bool, besides: set[str]) -> list[Letter]:
        """What is due again, by day or loud; what is told now anyway is not told twice."""
        due = [self._known[key].trouble for key in self._owed.due(self._known, steady) if key not in besides]
        return [self._begun(trouble) for trouble in due if trouble.loud or not quiet]

    def _new(self, troubles: Sequence[Trouble], steady: float) -> list[Letter]:
        letters = []
        for trouble in troubles:
            known = self._known.get(trouble.id)
            if known is not None:
                louder = trouble.loud and not known.trouble.loud
                known.trouble = trouble
                letters += [self._begun(trouble)] if louder else []
                continue
            self._known[trouble.id] = _Known(trouble, steady)
            back = steady - self._ended.get(trouble.id, -AGAIN_SECONDS) < AGAIN_SECONDS
            letters += [] if back and not trouble.loud else [self._begun(trouble)]
        return letters

    def _gone(self, troubles: Sequence[Trouble], steady: float) -> list[Letter]:
        holds = {trouble.id for trouble in troubles}
        letters = []
        for key in [key for key in self._known if key not in holds]:
            trouble = self._known.pop(key).trouble
            again = steady - self._ended.get(key, -AGAIN_SECONDS) < AGAIN_SECONDS
            self._ended[key] = steady
            letters += [] if again else [Letter(f"{self._house}: over", f"Over: {trouble.what}", good=True)]
        self._ended = {key: at for key, at in self._ended.items() if steady - at < AGAIN_SECONDS}
        return letters

    def _unseen(self, steady: float) -> list[Letter]:
        """Who has looked is not reminded; nobody is twice."""
        letters = []
        for known in self._known.values():
            due = steady - known.since >= self._table.remind_after
            if due and not known.reminded and not known.trouble.seen:
                known.reminded = True
                letters.append(self._begun(known.trouble, "still: "))
        return letters

    def _begun(self, trouble: Trouble, word: str = "") -> Letter:
        body = "\n".join(part for part in (trouble.what, trouble.evidence, trouble.what_to_do) if part)
        return Letter(f"{self._house}: {word}{trouble.code}", body, trouble.loud, about=trouble.id)

    @property
    def kinds(self) -> tuple[str, ...]:
        """What may be shown of each address."""
        return self._post.kinds

    def try_out(self) -> list[tuple[str, bool]]:
        """Send a test notice to each address, now; its kind, and whether it was taken."""
        body = "This is a test notice. Nothing is wrong."
        return self._post.try_out(Letter(f"{self._house}: a test", body, good=True))

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end."""
        self._post.close(wait_seconds)

    @property
    def idle(self) -> bool:
        """Whether all that was handed over was tried."""
        return self._post.outbox.idle


def in_quiet(quiet: Asleep | None, local: datetime) -> bool:
    """Whether a local time lies in quiet hours, which may pass midnight."""
    if quiet is None:
        return False
    at = local.time()
    if quiet.begins <= quiet.ends:
        return quiet.begins <= at < quiet.ends
    return at >= quiet.begins or at < quiet.ends
