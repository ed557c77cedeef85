"""Closed forms of a first-order room under on/off heat, and the tuning that follows from them.

Rules: temperatures °C, differences K, times s unless named otherwise; every function is derived
arithmetic and exact for its model; out-of-range input is a ValueError that names the mend.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log


def _need(true: bool, mend: str) -> None:
    if not true:
        raise ValueError(mend)


def seconds_to_reach(
    start_celsius: float, goal_celsius: float, final_celsius: float, tau_seconds: float
) -> float:
    """Seconds until a first-order room gets from start to goal on its way to `final_celsius`."""
    _need(tau_seconds > 0, "tau_seconds must be over zero")
    if start_celsius == goal_celsius:
        return 0.0
    before, after = final_celsius - start_celsius, final_celsius - goal_celsius
    _need(
        before * after > 0 and abs(after) < abs(before), "the goal is not on the way to the final temperature"
    )
    return tau_seconds * log(before / after)


def celsius_after(seconds: float, start_celsius: float, final_celsius: float, tau_seconds: float) -> float:
    """Temperature of a first-order room after some seconds."""
    _need(tau_seconds > 0, "tau_seconds must be over zero")
    return final_celsius + (start_celsius - final_celsius) * exp(-seconds / tau_seconds)


@dataclass(frozen=True, slots=True)
class OnOffCycle:
    """A steady on/off cycle: extremes °C, the relay's on and off times s, cycles per hour."""

    lowest_celsius: float
    highest_celsius: float
    on_seconds: float
    off_seconds: float

    @property
    def cycles_per_hour(self) -> float:
        """Cycles, each an ON and an OFF, in an hour."""
        return 3600.0 / (self.on_seconds + self.off_seconds)

    @property
    def duty(self) -> float:
        """Share of the time with the relay closed, 0..1."""
        return self.on_seconds / (self.on_seconds + self.off_seconds)


def on_off_cycle(
    set_celsius: float,
    half_band_kelvin: float,
    outdoor_celsius: float,
    rise_kelvin: float,
    tau_seconds: float,
    dead_seconds: float = 0.0,
) -> OnOffCycle:
    """The cycle of a relay with a band of ± `half_band_kelvin` on a room whose heat acts `dead_seconds` late.

    `rise_kelvin` is how far full power would lift the room over outdoors.
    """
    _need(half_band_kelvin > 0 <= dead_seconds, "the half band must be over zero, the dead time not negative")
    high, low = set_celsius + half_band_kelvin, set_celsius - half_band_kelvin
    hot = outdoor_celsius + rise_kelvin
    _need(outdoor_celsius < low and high < hot, "the band must lie between outdoors and full power's end")
    peak = celsius_after(dead_seconds, high, hot, tau_seconds)
    trough = celsius_after(dead_seconds, low, outdoor_celsius, tau_seconds)
    on = dead_seconds + seconds_to_reach(trough, high, hot, tau_seconds)
    off = dead_seconds + seconds_to_reach(peak, low, outdoor_celsius, tau_seconds)
    return OnOffCycle(trough, peak, on, off)


def most_cycles_per_hour(rise_kelvin: float, half_band_kelvin: float, tau_seconds: float) -> float:
    """Cycles per hour at half duty, where a relay with a narrow band is busiest."""
    _need(half_band_kelvin > 0 and tau_seconds > 0, "half_band_kelvin and tau_seconds must be over zero")
    return 3600.0 * rise_kelvin / (8.0 * half_band_kelvin * tau_seconds)


def cycles_per_hour(duty: float, most_per_hour: float) -> float:
    """Cycles per hour at a duty 0..1, from those at half duty."""
    _need(0 <= duty <= 1, "duty is a share from 0 to 1")
    return 4.0 * most_per_hour * duty * (1.0 - duty)


def ripple_kelvin(rise_kelvin: float, duty: float, cycle_seconds: float, tau_seconds: float) -> float:
    """Peak-to-peak air swing of time-proportional heat at a steady duty, K."""
    _need(0 <= duty <= 1, "duty is a share from 0 to 1")
    _need(cycle_seconds > 0 and tau_seconds > 0, "cycle_seconds and tau_seconds must be over zero")
    share = cycle_seconds / tau_seconds
    return rise_kelvin * (1 - exp(-duty * share)) * (1 - exp(-(1 - duty) * share)) / (1 - exp(-share))


def relay_oscillation(
    gain: float, tau_seconds: float, dead_seconds: float, relay: float
) -> tuple[float, float]:
    """Amplitude (half of peak to peak) and period s of a ±`relay` ideal relay round gain·e^(−θs)/(τs+1)."""
    _need(tau_seconds > 0 and dead_seconds > 0, "tau_seconds and dead_seconds must be over zero")
    amplitude = gain * relay * (1 - exp(-dead_seconds / tau_seconds))
    return amplitude, 2 * tau_seconds * log(2 * exp(dead_seconds / tau_seconds) - 1)


def simc_pi(
    gain_kelvin: float, tau_seconds: float, dead_seconds: float, closed_seconds: float | None = None
) -> tuple[float, float]:
    """PI settings (gain per K, integral seconds) for a room that full power lifts by `gain_kelvin`.

    Skogestad 2003: Kc = τ/(k(τc+θ)), τI = min(τ, 4(τc+θ)); `closed_seconds` is τc, by default θ.
    """
    _need(gain_kelvin > 0, "gain_kelvin must be over zero")
    _need(tau_seconds > 0 and dead_seconds > 0, "tau_seconds and dead_seconds must be over zero")
    wait = dead_seconds + (dead_seconds if closed_seconds is None else closed_seconds)
    return tau_seconds / (gain_kelvin * wait), min(tau_seconds, 4 * wait)


@dataclass(frozen=True, slots=True)
class Start:
    """When to begin heating: hours from now, hours before occupancy, and the air at that moment, °C."""

    from_now_hours: float
    lead_hours: float
    celsius: float


def optimum_start(
    now_celsius: float,
    occupied_celsius: float,
    outdoor_celsius: float,
    hot_celsius: float,
    tau_hours: float,
    hours_to_occupancy: float,
) -> Start:
    """The latest start of full heat that meets occupancy: the cool-down curve cut with the heat-up curve.

    The method of NBSIR 83-2720, for one time constant. The lead is never longer than the time left.
    """
    _need(
        tau_hours > 0 and hours_to_occupancy >= 0, "tau_hours must be over zero, the time left not negative"
    )
    _need(occupied_celsius < hot_celsius, "full heat does not reach the occupied temperature")
    late = (hot_celsius - occupied_celsius) * exp(hours_to_occupancy / tau_hours)
    grown = (late + now_celsius - outdoor_celsius) / (hot_celsius - outdoor_celsius)
    begin = min(max(tau_hours * log(grown), 0.0), hours_to_occupancy) if grown > 0 else 0.0
    at_start = celsius_after(begin, now_celsius, outdoor_celsius, tau_hours)
    return Start(begin, hours_to_occupancy - begin, at_start)


def start_weight(celsius: float, unoccupied_celsius: float, occupied_celsius: float) -> float:
    """Weight of the outdoor term in a learned start (Seem, Armstrong & Hancock 1989, from memory)."""
    _need(occupied_celsius != unoccupied_celsius, "the two set-points must differ")
    return float(1000.0 ** (-(celsius - unoccupied_celsius) / (occupied_celsius - unoccupied_celsius)))
