"""Which setting of a heater's selector suits a room and the weather: what it carries, how cold it holds, how it clicks.

Rules: watts needed are the room's loss times its rise over outdoors, less what comes in anyway; a setting that the body
sheds carries its watts without a click, one above it only what the best on/off cycle under the minimum times leaves;
clicks are those of a relay with a band and a dead time (cycles.py, derived). Pure; the body is first order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, isfinite, log

from thermostatd.physics.cycles import on_off_cycle

UNDER_SHARE = 0.97  # of the opening level: a setting closer than that may open on a day of high mains
DAY_HOURS = 24.0
DEAD_SECONDS = 600.0  # a store of heat answers late, about by its time constant
TRIFLE_CLICKS = 2.0


@dataclass(frozen=True, slots=True)
class Body:
    """What was learned of the heater: where its cut-out opens W, its spread W, its time constant s."""

    opens_watts: float
    spread_watts: float
    tau_seconds: float


@dataclass(frozen=True, slots=True)
class Cycle:
    """A steady cycle of a heater under its own cut-out: seconds on and off, mean watts."""

    on_seconds: float
    off_seconds: float
    mean_watts: float


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: what it carries for hours, W, whether its cut-out would interfere (None: not known yet).

    `holds_celsius` is the outdoor air down to which it holds the target; `clicks_a_day` those at the outdoor air given.
    """

    watts: float
    carries_watts: float
    opens: bool | None
    holds_celsius: float
    clicks_a_day: float
    holds: bool


@dataclass(frozen=True, slots=True)
class Advice:
    """The settings from low to high, the best of them, and the one it is on. Watts are what the room needs now."""

    target_celsius: float
    loss_watts_per_kelvin: float
    free_watts: float
    outdoor_celsius: float
    coldest_celsius: float
    needed_watts: float
    settings: tuple[Setting, ...]
    best: Setting
    current: Setting

    @property
    def change(self) -> bool:
        """Whether another setting than the present one is better."""
        return self.best.watts != self.current.watts

    @property
    def clicks_saved(self) -> float:
        """Clicks a day that the better setting saves, in this weather."""
        return self.current.clicks_a_day - self.best.clicks_a_day


def best_cycle(watts: float, body: Body, min_on: float, min_off: float) -> Cycle:
    """The best on/off cycle of a body under minimum times that never opens its cut-out (derived, first order).

    With y the output and τ the time constant, a run of t from y₀ ends at P − (P − y₀)·e^(−t/τ), a rest at y·e^(−t/τ).
    """
    opens, tau = body.opens_watts, body.tau_seconds
    if not (watts > opens > 0.0 and tau > 0.0 and min_on > 0.0 and min_off > 0.0):
        raise ValueError(
            "a cycle needs watts over the opening level, a time constant and minimum times over zero"
        )
    on, lowest = min_on, watts - (watts - opens) * exp(min_on / tau)
    if lowest <= 0.0:  # even from cold a shortest run passes it
        return Cycle(min_on, float("inf"), 0.0)
    off = tau * log(opens / lowest)
    if off < min_off:
        off = min_off
        on = tau * log((watts - opens * exp(-off / tau)) / (watts - opens))
    return Cycle(on, off, watts * on / (on + off))


def advise(
    settings_watts: Sequence[float],
    set_watts: float,
    target_celsius: float,
    loss_watts_per_kelvin: float,
    outdoor_celsius: float,
    coldest_celsius: float | None = None,
    *,
    body: Body | None = None,
    sheds_watts: float = 0.0,
    free_watts: float = 0.0,
    min_on: float = 300.0,
    min_off: float = 300.0,
    room_tau_seconds: float = 14400.0,
    half_band_kelvin: float = 0.2,
) -> Advice | None:
    """The setting that holds the target down to the coldest with the fewest clicks; None where numbers are missing.

    `body` is what openings taught; `sheds_watts` what the heater is known to carry for hours without one; `free_watts`
    comes from sun, people and other heaters. Without a coldest outdoor air, ten kelvins under the present one counts.
    """
    coldest = outdoor_celsius - 10.0 if coldest_celsius is None else min(coldest_celsius, outdoor_celsius)
    numbers = (set_watts, target_celsius, loss_watts_per_kelvin, outdoor_celsius, coldest, free_watts)
    if not all(map(isfinite, numbers)) or loss_watts_per_kelvin <= 0.0 or set_watts <= 0.0:
        return None
    dead = body.tau_seconds if body is not None else DEAD_SECONDS
    room = _Room(target_celsius, loss_watts_per_kelvin, free_watts, room_tau_seconds, half_band_kelvin, dead)
    times = (min_on, min_off)
    judged = tuple(
        _judge(watts, body, sheds_watts, room, outdoor_celsius, coldest, times)
        for watts in sorted({*settings_watts, set_watts})
    )
    current = next(one for one in judged if one.watts == set_watts)
    return Advice(
        target_celsius,
        loss_watts_per_kelvin,
        free_watts,
        outdoor_celsius,
        coldest,
        room.needs(outdoor_celsius),
        judged,
        _best(judged, current),
        current,
    )


@dataclass(frozen=True, slots=True)
class _Room:
    """The room's side of the balance."""

    target: float
    loss: float
    free: float
    tau: float
    half_band: float
    dead: float

    def needs(self, outdoor: float) -> float:
        return max(0.0, self.loss * (self.target - outdoor) - self.free)

    def clicks_a_day(self, watts: float, outdoor: float) -> float:
        """Of a relay with a band on this room, two for each cycle; none where it has to run all the time, or never."""
        cold, rise = outdoor + self.free / self.loss, watts / self.loss
        if not cold < self.target - self.half_band or not self.target + self.half_band < cold + rise:
            return 0.0
        cycle = on_off_cycle(self.target, self.half_band, cold, rise, self.tau, self.dead)
        return 2.0 * DAY_HOURS * cycle.cycles_per_hour


def _judge(
    watts: float,
    body: Body | None,
    sheds_watts: float,
    room: _Room,
    outdoor: float,
    coldest: float,
    times: tuple[float, float],
) -> Setting:
    opens = _opens(watts, body, sheds_watts)
    cycle = best_cycle(watts, body, *times) if opens and body is not None else None
    carries = cycle.mean_watts if cycle is not None else watts
    duty = room.needs(outdoor) / carries if carries > 0.0 else float("inf")
    clicks = room.clicks_a_day(carries, outdoor) if carries > 0.0 else 0.0
    if cycle is not None and carries > 0.0:  # while the room asks, the body's own cycle clicks besides
        clicks += min(1.0, duty) * 2.0 * DAY_HOURS * 3600.0 / (cycle.on_seconds + cycle.off_seconds)
    holds_to = room.target - (carries + room.free) / room.loss
    return Setting(watts, carries, opens, holds_to, clicks, holds_to <= coldest)


def _opens(watts: float, body: Body | None, sheds_watts: float) -> bool | None:
    """Whether its cut-out would open on a setting; None while nobody knows."""
    if watts <= sheds_watts:
        return False
    if body is None:
        return None
    return watts > UNDER_SHARE * body.opens_watts


def _best(judged: Sequence[Setting], current: Setting) -> Setting:
    """Of those that hold, the fewest clicks, then the lowest; if none does, what carries most; no trifles."""
    known = [one for one in judged if one.opens is not None or one is current]
    holding = [one for one in known if one.holds]
    if not holding:
        return max(known, key=lambda one: (one.carries_watts, -one.watts))
    best = min(holding, key=lambda one: (bool(one.opens), one.clicks_a_day, one.watts))
    small = current.holds and not current.opens and current.clicks_a_day - best.clicks_a_day < TRIFLE_CLICKS
    return current if small else best
