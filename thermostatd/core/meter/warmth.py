"""How warm the heater's body may be, as the watts that it would give: a filter of the power it drew.

Rules: ẏ = (P − y)/τ with a τ that is typical of its kind and never learned, so that openings of one heater are
compared on one scale, years apart. It judges "far earlier than before" and "surely cold by now", no more;
what a body can sustain is learned elsewhere.
"""

from __future__ import annotations

from math import exp

from thermostatd.core.memory import Notes
from thermostatd.physics.heater_kinds import MAKES, Kind
from thermostatd.physics.heaters import EN442_EXPONENT

LONGEST_REST_SECONDS = 6 * 3600.0


def tau_seconds(kind: Kind) -> float:
    """Typical time constant of a kind's output near its label, s (common practice, no published source)."""
    make = MAKES[kind]
    return make.joules_per_kelvin_watt * make.rise_kelvin / EN442_EXPONENT


def later(warmth: float, watts: float, seconds: float, tau: float) -> float:
    """The warmth, W, after some seconds at a power."""
    return watts + (warmth - watts) * exp(-max(seconds, 0.0) / tau)


def cool_to(notes: Notes, at: float, tau: float) -> None:
    """Bring a resting body's warmth up to a second; a clock that began anew says only that it was warm."""
    seconds = at - notes.get("warm_at", at - LONGEST_REST_SECONDS)
    notes["warmth"] = round(later(notes.get("warmth", 0.0), 0.0, seconds, tau), 1)
    notes["warm_at"] = at
