"""Whether the voltage at a plug sags under its own load more than this house's usual: a bad contact in the socket.

Rules: only where the meter tells volts; a contact's ohms are the volts lost per ampere between two settled reports
on either side of a switching; the mains moves by itself meanwhile, so several are taken together, with their
error. Ohms are judged at 230 V; at another nominal voltage in proportion to its square, as loads are.
"""

from __future__ import annotations

from math import sqrt

from thermostatd.core.memory import HeaterMemory, Notes

LEAST_STEP_AMPS = 1.0
WINDOW, FEWEST = 8, 4
LONGEST_GAP_SECONDS = 960.0
BAD_OHMS, MOST_USUAL_OHMS = 0.65, 0.6
SURE = 2.0
MOST_OHMS = 12.0


def hear(notes: Notes, kept: HeaterMemory, settled: bool, nominal_volts: float) -> str | None:
    """Take one report in; gives the evidence once a contact is surely bad."""
    if not settled or not kept.volts or kept.watts is None or kept.watts_at is None:
        return None
    amps = max(kept.watts, 0.0) / kept.volts
    last, notes["last"] = notes.get("last"), [round(kept.volts, 1), round(amps, 2), kept.watts_at]
    if last is None or kept.watts_at - last[2] > LONGEST_GAP_SECONDS or abs(amps - last[1]) < LEAST_STEP_AMPS:
        return None
    ohms = (last[0] - kept.volts) / (amps - last[1]) * (230.0 / nominal_volts) ** 2
    if abs(ohms) > MOST_OHMS:
        return None
    steps = notes["steps"] = [*notes.get("steps", []), [round(ohms, 2), round((amps - last[1]) ** 2, 1)]][
        -WINDOW:
    ]
    return _judge(notes, steps, max(amps, last[1]) * nominal_volts / 230.0)


def _judge(notes: Notes, steps: list[list[float]], amps: float) -> str | None:
    if len(steps) < FEWEST:
        return None
    weight = sum(one[1] for one in steps)
    mean = sum(one[0] * one[1] for one in steps) / weight
    spread = sum(one[1] * (one[0] - mean) ** 2 for one in steps) / weight
    error = sqrt(spread / (len(steps) - 1))
    usual = min(notes.get("usual", 0.3), MOST_USUAL_OHMS)
    if mean - SURE * error > usual and mean > usual + BAD_OHMS - 0.3:
        return (
            f"The voltage falls by {mean * amps:.1f} V more than it should when the heater comes on "
            f"({mean:.1f} ohm in the contact, {usual:.1f} are usual here)."
        )
    if mean < BAD_OHMS and len(steps) == WINDOW:
        notes["usual"] = round(0.98 * notes.get("usual", 0.3) + 0.02 * max(mean, 0.1), 3)
    return None
