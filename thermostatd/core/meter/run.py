"""Follows one run of a heater from report to report, and says what happened in it.

Rules: a level is left for another only when two reports agree, or one report of a slow meter that shows nothing
or a level this heater is known to have; an opening lies between the last report on the old level and the first
that differs, and both bounds are kept; power that is low from switch-on is "still open", never a new opening.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal

from thermostatd.core.memory import Notes
from thermostatd.core.meter.power import Power, near
from thermostatd.core.meter.warmth import cool_to, later

What = Literal["started", "fell", "gone", "rose", "held"]
MOST_PROVEN = 4
NOTHING_SHARE = 0.03
STILL_OPEN_SECONDS = 2700.0  # a body under a cover may take so long to cool until its cut-out closes


@dataclass(frozen=True, slots=True)
class Happening:
    """What a report showed. Watts `before` and `after`; the change came in (`lo_at`, `hi_at`], body at lo..hi W."""

    what: What
    before: float
    after: float
    lo_at: float
    hi_at: float
    lo_warmth: float = 0.0
    hi_warmth: float = 0.0

    @property
    def at(self) -> float:
        """The likeliest steady second."""
        return 0.5 * (self.lo_at + self.hi_at)


def begin(notes: Notes, on_at: float, tau: float) -> None:
    """A run begins: the body has cooled since the last one, which ended at `hot` W so many seconds ago."""
    hot, rested = notes.get("warmth", 0.0), on_at - notes.get("warm_at", -inf)
    cool_to(notes, on_at, tau)
    notes.update(on_at=on_at, cold=notes["warmth"])
    notes.pop("hot", None)
    if 0.0 <= rested <= STILL_OPEN_SECONDS:
        notes["hot"] = hot


def end(notes: Notes, off_at: float, tau: float) -> None:
    """The run is over; what was open stays open until a report shows otherwise."""
    level = notes.get("level")
    if level is not None and off_at >= notes["warm_at"]:
        notes["warmth"] = round(later(notes["warmth"], level, off_at - notes["warm_at"], tau), 1)
        notes["warm_at"] = off_at
    notes.pop("sank", None)
    other = notes.get("other")
    if level and other is not None and NOTHING_SHARE * level < other[0] < level:
        notes["sank"] = round(other[0], 1)  # one report only, and then it was off
    for name in ("on_at", "level", "top", "last_at", "early", "other", "judged_at"):
        notes.pop(name, None)


def hear(
    notes: Notes, power: Power, known: Sequence[float], tau: float, quick: bool = False
) -> list[Happening]:
    """Take one report of a running heater in; gives what it showed, in order. `quick`: so small a body may be out and
    back between two reports."""
    if notes.get("level") is None:
        return _first(notes, power, known, tau)
    level = notes["level"]
    if _same(power, level):
        other = notes.pop("other", None)
        blinked = _blinked(notes, power, other) if quick and other is not None else []
        _hold(notes, power, tau)
        held = Happening("held", level, notes["level"], power.at, power.at, notes["warmth"], notes["warmth"])
        return [*blinked, held]
    other = notes.get("other")
    if other is None or not near(other[0], power.watts, power.exact):
        upper = later(notes["warmth"], level, power.at - notes["warm_at"], tau)
        left = other[1:] if other is not None else [power.at, upper]  # by the first report that differs
        other = notes["other"] = [power.watts, *left]
        if not (power.slow and (power.nothing or any(power.near(watts) for watts in known))):
            return []
    return [_step(notes, power, other, tau)]


def _blinked(notes: Notes, power: Power, other: Sequence[float]) -> list[Happening]:
    """One report of nothing between two of its level: power was gone, and is back."""
    level = notes["level"]
    if not level or other[0] > NOTHING_SHARE * level:
        return []
    warmth = sorted((notes["warmth"], other[2]))
    return [
        Happening("gone", level, 0.0, notes["last_at"], other[1], *warmth),
        Happening("rose", 0.0, level, other[1], power.at, *warmth),
    ]


def _same(power: Power, level: float) -> bool:
    if level == 0.0 or power.nothing:
        return level == 0.0 and power.nothing
    return power.near(level)


def _first(notes: Notes, power: Power, known: Sequence[float], tau: float) -> list[Happening]:
    """Before a level is known: early reports only prove power that flows; the first late one gives the level."""
    early = notes.get("early")
    if not power.proves:
        if not power.nothing and (early is None or power.watts >= early[0]):
            notes["early"] = [round(power.watts, 1), power.at]
        return []
    if early is not None and not power.near(early[0]) and power.watts < early[0]:
        level, at = early
    else:
        level, at = (0.0 if power.nothing else power.watts), power.at
    level = round(level, 1)
    notes["warmth"] = round(later(notes["warmth"], level, at - notes["warm_at"], tau), 1)
    notes.update(level=level, top=level, warm_at=at, last_at=at)
    started = Happening("started", level, level, at, at, notes["cold"], notes["warmth"])
    return [started] if at == power.at else [started, *hear(notes, power, known, tau)]


def _hold(notes: Notes, power: Power, tau: float) -> None:
    level = notes["level"]
    notes["warmth"] = round(later(notes["warmth"], level, power.at - notes["warm_at"], tau), 1)
    notes["level"] = level = round(level + 0.25 * (power.watts - level), 1) if level else 0.0
    notes["top"] = max(notes["top"], level)
    notes.update(warm_at=power.at, last_at=power.at)


def _step(notes: Notes, power: Power, other: Sequence[float], tau: float) -> Happening:
    before, after = notes["level"], (0.0 if power.nothing else round(power.watts, 1))
    lo_warmth, hi_warmth = sorted((notes["warmth"], other[2]))
    what: What = "rose" if after > before else "fell" if after else "gone"
    found = Happening(what, before, after, notes["last_at"], other[1], lo_warmth, hi_warmth)
    warmth = later(0.5 * (lo_warmth + hi_warmth), after, power.at - other[1], tau)
    notes.pop("other", None)
    notes.update(level=after, last_at=power.at, warm_at=power.at, warmth=round(warmth, 1))
    notes["top"] = max(notes["top"], after)
    return found


def prove(notes: Notes, level: float, warmth: float, exact: bool) -> None:
    """The body was this warm on this level, and nothing had opened."""
    proven = notes.setdefault("proven", [])
    for one in proven:
        if near(one[0], level, exact):
            one[1] = max(one[1], round(warmth, 1))
            return
    proven.append([round(level, 1), round(warmth, 1)])
    del proven[:-MOST_PROVEN]


def proven_warmth(notes: Notes, level: float, exact: bool) -> float | None:
    """How warm the body has been on this level without an opening, W; None: not known yet."""
    return next((one[1] for one in notes.get("proven", []) if near(one[0], level, exact)), None)
