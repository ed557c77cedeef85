"""Whose turn it is on one circuit: pure arithmetic on who runs, who waits, and what each counts for.

Rules: a run is kept through its shortest time, then through its turn; after that a room gives way to one that
needs it half a kelvin more. A spot comes first or last, as the owner says. Who is next in line is not overtaken
by a smaller one. One heater at a time is switched ON, so that inrush and meter can be seen. Nothing starts
beside what may still draw; a sum that is over is shed at once, the last in line first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thermostatd.core.sharing.need import LONGEST_WAIT_SECONDS

TURN_SECONDS = 600.0
BLIND_TURN_SECONDS = 3600.0  # its share lies idle until its last ON lapses: rarely worth taking
MARGIN_KELVIN = 0.5
STAGGER_SECONDS = 30.0
_SLACK_AMPS = 1e-9


@dataclass(frozen=True, slots=True)
class Member:
    """One heater on a circuit. `amps` at high mains; `ran_seconds` is None unless it is told ON.

    `drawing`: it may draw without an order, so its share is taken already; `leaving`: and that ends by itself.
    `spot` is "first" or "last" for a spot, None for a room.
    """

    key: str
    amps: float
    wanted: bool
    ran_seconds: float | None = None
    drawing: bool = False
    leaving: bool = False
    by_hand: bool = False
    spot: str | None = None
    min_on: float = 300.0
    turn: float = TURN_SECONDS
    need: float = 0.0
    waited: float = 0.0

    @property
    def fresh(self) -> bool:
        """Still within its shortest run."""
        return self.ran_seconds is not None and self.ran_seconds < self.min_on


@dataclass(frozen=True, slots=True)
class Ruling:
    """What a wanted heater may do: on, or off with the reason code why; `over` where the sum forbids it now."""

    on: bool
    code: str = "circuit"
    over: bool = False


def share_out(members: Sequence[Member], share_amps: float) -> dict[str, Ruling]:
    """A ruling for every wanted heater of one circuit."""
    wanted = sorted((member for member in members if member.wanted), key=place_in_line)
    never = [member for member in wanted if member.amps > share_amps + _SLACK_AMPS]
    rulings = {
        member.key: Ruling(False, "turn-never", over=member.ran_seconds is not None) for member in never
    }
    wanted = [member for member in wanted if member.key not in rulings]
    chosen = _plan(wanted, share_amps - _sum(m for m in members if m.drawing and not (m.leaving or m.wanted)))
    left = share_amps - _sum(member for member in members if member.drawing)
    for member in wanted:
        if member.ran_seconds is not None or (member.drawing and not member.leaving):
            left = _keep(member, chosen, left, rulings)
    going = [m for m in (*never, *wanted) if m.key in rulings and not rulings[m.key].on]
    left -= _sum(m for m in going if m.ran_seconds is not None and not m.drawing)  # not off yet
    busy = any(m.ran_seconds is not None and m.ran_seconds < STAGGER_SECONDS for m in members)
    for member in wanted:
        if member.key not in rulings:
            cost = 0.0 if member.drawing else member.amps
            fits = member.key in chosen and cost <= left + _SLACK_AMPS
            rulings[member.key] = Ruling(fits and not busy, "turn-next" if fits else "circuit")
            left -= cost if fits else 0.0
            busy = busy or fits
    return rulings


def place_in_line(member: Member) -> tuple[int, bool, float, str]:
    """Sort key: the first in line first."""
    if member.by_hand or member.fresh:
        return 0, False, -(member.ran_seconds or 0.0), member.key
    if member.spot is not None:
        return 1 if member.spot == "first" else 4, False, -(member.ran_seconds or 0.0), member.key
    if member.ran_seconds is not None and member.ran_seconds < member.turn:
        return 2, False, -member.ran_seconds, member.key
    if member.ran_seconds is None and member.waited >= LONGEST_WAIT_SECONDS:
        return 3, False, -member.waited, member.key
    margin = MARGIN_KELVIN if member.ran_seconds is not None else 0.0
    return 3, True, -(member.need + margin), member.key


def _plan(wanted: Sequence[Member], amps: float) -> set[str]:
    """Who should be on once all that is leaving has left. Nobody new passes one who waits for a turn to end."""
    chosen: set[str] = set()
    left, blocked = amps, False
    for member in wanted:
        new = member.ran_seconds is None and not (member.drawing and not member.leaving)
        if member.amps <= left + _SLACK_AMPS and not (new and blocked):
            chosen.add(member.key)
            left -= member.amps
        elif new and member.amps <= amps + _SLACK_AMPS:
            blocked = True
    return chosen


def _keep(member: Member, chosen: set[str], left: float, rulings: dict[str, Ruling]) -> float:
    """Rule on one that is on by now; gives the amperes that are left."""
    cost = 0.0 if member.drawing else member.amps
    over = cost > left + _SLACK_AMPS
    if over or member.key not in chosen:
        rulings[member.key] = Ruling(False, "circuit" if over else "turn-over", over=over or member.fresh)
        return left
    rulings[member.key] = Ruling(True)
    return left - cost


def _sum(members: Iterable[Member]) -> float:
    return sum(member.amps for member in members)
