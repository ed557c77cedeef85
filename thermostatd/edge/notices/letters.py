"""Tells troubles to the owner's addresses (mail, chat, push), by the apprise library, from a thread of its own.

Rules: the tick only says what holds; a trouble is told when it begins, once more if nobody has looked at it for a
while, and when it ends; the same one coming back within an hour is not told again; in quiet hours only loud ones go
out, the rest waits until they end; an address is a secret and is never logged.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import datetime
from pathlib import Path
from threading import Condition, Thread
from typing import Any

from thermostatd.core.house import Notices as Table
from thermostatd.core.house.tables import Asleep
from thermostatd.core.results import Trouble
from thermostatd.edge.notices.owed import Owed

AGAIN_SECONDS = 3600.0
MOST_WAITING = 64
WAITS_SECONDS = (5.0, 60.0, 300.0)
log = logging.getLogger(__name__)


class LettersError(ValueError):
    """The addresses cannot be used; the sentence says why, without them."""


@dataclass(frozen=True, slots=True)
class Letter:
    """One notice. `loud` goes out in quiet hours, too."""

    title: str
    body: str
    loud: bool = False
    good: bool = False
    about: str = ""
    """The trouble that begins or holds; empty for an end."""


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
        """LettersError where an address is none, or the library is not installed."""
        self._house, self._table, self._waits = house, table, tuple(waits_seconds)
        self._targets = [(kind_of(address), target_of(address)) for address in addresses]
        self._known: dict[str, _Known] = {}
        self._ended: dict[str, float] = {}
        self._held: list[Letter] = []
        self._owed = Owed()
        self._waiting: deque[Letter] = deque(maxlen=MOST_WAITING)
        self._changed = Condition()
        self._failing: set[int] = set()
        self._busy = self._closed = False
        self._thread: Thread | None = None

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
            self._hand_over(now)

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
        return tuple(kind for kind, _ in self._targets)

    def try_out(self) -> list[tuple[str, bool]]:
        """Send a test notice to each address, now; its kind, and whether it was taken."""
        letter = Letter(f"{self._house}: a test", "This is a test notice. Nothing is wrong.", good=True)
        return [(kind, _sent(target, letter)) for kind, target in self._targets]

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end the thread."""
        with self._changed:
            self._changed.wait_for(lambda: not self._waiting and not self._busy, wait_seconds)
            self._closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(wait_seconds)

    def _hand_over(self, letters: Sequence[Letter]) -> None:
        with self._changed:
            over = max(0, len(self._waiting) + len(letters) - MOST_WAITING)
            for letter in [*self._waiting, *letters][:over]:
                self._owed.missed(letter.about)
            self._waiting.extend(letters)
            self._changed.notify_all()
        if self._thread is None and not self._closed:
            self._thread = Thread(target=self._run, name="letters", daemon=True)
            self._thread.start()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._busy = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._closed or self._waiting)
                if self._closed:
                    return
                self._busy = True
                letter = self._waiting.popleft()
            try:
                self._deliver(letter)
            except Exception:
                log.exception("a notice could not be sent")
                self._owed.missed(letter.about)

    def _deliver(self, letter: Letter) -> None:
        """To every address that is owed it; those that fail are tried three times more, then later again (owed.py)."""
        owed_to = set(self._owed.places(letter.about)) & set(range(len(self._targets)))
        left = {place: one for place, one in enumerate(self._targets) if not owed_to or place in owed_to}
        for wait in (0.0, *self._waits):
            if wait and self._ended_within(wait):
                break
            left = {place: one for place, one in left.items() if not _sent(one[1], letter)}
            if not left:
                break
        for place, (kind, _) in enumerate(self._targets):
            if place in left and place not in self._failing:
                log.warning("the %s address on line %d takes no notices", kind, place + 1)
        self._failing = set(left)
        if left:
            self._owed.missed(letter.about, left)
        else:
            self._owed.delivered(letter.about)

    def _ended_within(self, seconds: float) -> bool:
        with self._changed:
            return self._changed.wait_for(lambda: self._closed, seconds)


def in_quiet(quiet: Asleep | None, local: datetime) -> bool:
    """Whether a local time lies in quiet hours, which may pass midnight."""
    if quiet is None:
        return False
    at = local.time()
    if quiet.begins <= quiet.ends:
        return quiet.begins <= at < quiet.ends
    return at >= quiet.begins or at < quiet.ends


def addresses_in(file: str) -> list[str]:
    """The addresses of a file, one a line; lines that begin with # are none. LettersError where there is none."""
    try:
        lines = [line.strip() for line in Path(file).read_text(encoding="utf-8").splitlines()]
    except (OSError, UnicodeDecodeError) as fault:
        raise LettersError(f"{file} cannot be read ({type(fault).__name__})") from fault
    found = [line for line in lines if line and not line.startswith("#")]
    if not found:
        raise LettersError(f"{file} names no address: write one a line")
    return found


def kind_of(address: str) -> str:
    """What may be shown of an address: the word before its ://."""
    return address.partition("://")[0][:20]


def target_of(address: str) -> Any:
    """What the library makes of an address. LettersError where it knows no such."""
    try:
        import apprise
    except ImportError:
        raise LettersError(
            "addresses need apprise, which is not installed: pip install 'thermostatd[notices]'"
        ) from None
    for library in ("apprise", "urllib3", "requests"):  # they might name the address
        logging.getLogger(library).setLevel(logging.CRITICAL + 1)
    target = apprise.Apprise.instantiate(address, suppress_exceptions=True)
    if target is None:
        raise LettersError(f'an address that begins with "{kind_of(address)}" is none that the library knows')
    return target


def _sent(target: Any, letter: Letter) -> bool:
    import apprise

    kind = apprise.NotifyType.SUCCESS if letter.good else apprise.NotifyType.FAILURE
    try:
        return bool(target.notify(title=letter.title, body=letter.body, notify_type=kind))
    except Exception as fault:
        log.debug("an address failed: %s", type(fault).__name__)
        return False
