"""A smart plug with a heater on it: relay, timer, meter, and the ways they fail.

Rules: an order closes or opens the relay at once; an ON with finite seconds ends by itself; what it shows
is what it was told, not what a welded contact does; the meter lags, steps and reports by its period.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, sqrt
from random import Random

from thermostatd.core.values import PlugReport
from thermostatd.physics.heaters import HeaterBody

CONTACT_OHMS = 0.01
WARM_KELVIN_PER_WATT = 0.6
WARM_SECONDS = 600.0
CHANGE_WATTS = 5.0


@dataclass(frozen=True, slots=True)
class MeterTraits:
    """How a plug's meter behaves, and what the plug tells at all.

    With a `change_share` it looks each period and tells its watts only once they have moved by that share and by
    5 W, or after `silence_seconds`.
    """

    period_seconds: float = 10.0
    step_watts: float = 1.0
    lag_seconds: float = 6.0
    tells_watts: bool = True
    tells_volts: bool = True
    tells_contact: bool = True
    tells_warm: bool = True
    change_share: float = 0.0
    silence_seconds: float = 3600.0

    @classmethod
    def invented(cls, rng: Random) -> MeterTraits:
        """Traits of some meter, from a seed."""
        return cls(
            period_seconds=rng.choice((10.0, 30.0, 60.0)),
            step_watts=rng.choice((0.1, 1.0, 1.0)),
            lag_seconds=rng.uniform(3.0, 12.0),
            change_share=rng.choice((0.0, 0.0, 0.05)),
        )


class HeatedPlug:
    """One plug and its heater. Energies J, powers W; `place` names where the heater stands."""

    def __init__(self, key: str, heater: HeaterBody, place: str, traits: MeterTraits, rng: Random) -> None:
        self.key, self.heater, self.traits = key, heater, traits
        self.place = self.home = place
        self.home_selection = heater.selection
        self.relay_on = False
        self.off_at = inf
        self.switchings = 0
        self.drawn_watts = self.given_watts = self.drawn_joules = 0.0
        self.warm_celsius = heater.body_celsius
        self.series_ohms = 0.0
        self.weld = self.unplugged = self.offline = False
        self.stuck_closed = False
        self.changed = True
        self.due_at = rng.uniform(0.5, min(traits.period_seconds, 5.0))
        self._rng = rng
        self._metered = self._warmed_at = 0.0
        self._around_celsius = heater.body_celsius
        self._volts = inf
        self._shown: tuple[bool, float] | None = None
        self._draws: tuple[float, float, float] | None = None

    def tell(self, on: bool, seconds: float, now: float) -> None:
        """An order reaches the plug; ON ends by itself after `seconds` (inf: not). Lost while it is away."""
        if not self.offline:
            self._set(on, now, now + seconds if on else inf)

    def press(self, now: float) -> None:
        """Someone presses the plug's own button."""
        self._set(not self.relay_on, now, inf)

    def reboot_on(self, now: float) -> None:
        """The plug restarts and comes up closed, without a timer."""
        self._set(True, now, inf)

    def _set(self, on: bool, now: float, off_at: float) -> None:
        self.off_at = off_at
        if on != self.relay_on:
            self.switchings += 1
            self.relay_on = on
        self._settle()
        self._show(now)

    def _settle(self) -> None:
        if self.weld and self.relay_on:
            self.stuck_closed = True

    def set_weld(self, welded: bool) -> None:
        """The contact welds: now if it is closed, else the next time it closes."""
        self.weld = welded
        self.stuck_closed = False
        self._settle()

    def step(self, seconds: float, now: float, volts: float, room_celsius: float) -> float:
        """Lets `seconds` pass up to `now`; returns the watts given to the room."""
        closed = (self.relay_on or self.stuck_closed) and not self.unplugged
        drawn, given = self.heater.step(seconds, volts, closed, room_celsius, self.series_ohms + CONTACT_OHMS)
        self.drawn_watts, self.given_watts = drawn, given
        self.drawn_joules += drawn * seconds
        lag = self.traits.lag_seconds
        self._metered += (drawn - self._metered) * (seconds / lag if seconds < lag else 1.0)
        self._volts = volts
        self._around_celsius = room_celsius
        if self.off_at <= now:
            self._set(False, now, inf)
        if now >= self.due_at:
            self.due_at = now + self.traits.period_seconds
            self.measure(now)
        return given

    def measure(self, now: float) -> None:
        """The meter's moment: what it shows from now on."""
        amps = sqrt(self.drawn_watts / self.heater.ohms)
        self._grow_warm(amps, now)
        if not self.offline:
            noisy = self._metered * (1.0 + 0.006 * (self._rng.random() - 0.5))
            if not self._worth(noisy, now):
                return
            self._draws = (noisy, self._volts - amps * self.series_ohms, now)
        self._show(now)

    def _worth(self, watts: float, now: float) -> bool:
        """Whether the meter tells of it."""
        traits = self.traits
        if self._draws is None or not traits.change_share:
            return True
        before, _, at = self._draws
        moved = abs(watts - before) >= max(CHANGE_WATTS, traits.change_share * before)
        return moved or now - at >= traits.silence_seconds

    def _grow_warm(self, amps: float, now: float) -> None:
        """The plug's own temperature follows the heat in its contacts, I²R, and the air round it."""
        hot = self._around_celsius + 3.0 + WARM_KELVIN_PER_WATT * amps * amps * (self.series_ohms + 0.15)
        share = 1.0 - exp((self._warmed_at - now) / WARM_SECONDS)
        self.warm_celsius += (hot - self.warm_celsius) * share
        self._warmed_at = now

    def _show(self, now: float) -> None:
        if not self.offline:
            self._shown = (self.relay_on, now)
            self.changed = True

    def news(self) -> bool:
        """Whether anything was reported since the last call."""
        fresh, self.changed = self.changed, False
        return fresh and self._shown is not None

    def report(self) -> PlugReport:
        """The last that the plug told, with the steady second of each part."""
        traits, shown, draws = self.traits, self._shown, self._draws
        told = traits.tells_contact and shown is not None
        metered = traits.tells_watts and draws is not None
        return PlugReport(
            on=shown[0] if told and shown else None,
            on_at=shown[1] if told and shown else None,
            watts=_stepped(draws[0], traits.step_watts) if metered and draws else None,
            watts_at=draws[2] if metered and draws else None,
            volts=round(draws[1], 1) if traits.tells_volts and draws else None,
            warm_celsius=round(self.warm_celsius, 1) if traits.tells_warm and draws else None,
            warm_at=draws[2] if traits.tells_warm and draws else None,
            reachable=not self.offline,
        )

    def mend(self) -> None:
        """Someone puts plug and heater right; the heater goes home, its selector to where it was."""
        self.heater.reset()
        self.heater.selection, self.place = self.home_selection, self.home
        self.set_weld(False)
        self.unplugged = self.offline = False
        self.series_ohms = 0.0
        self.changed = True


def _stepped(watts: float, step_watts: float) -> float:
    return round(max(round(watts / step_watts) * step_watts, 0.0), 3)
