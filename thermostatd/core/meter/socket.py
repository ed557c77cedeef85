"""Whether the voltage at a plug sags under its own load more than this house's usual: a bad contact in the socket.

Rules: only where the meter tells volts; a contact's ohms are the volts lost per ampere between two settled reports
on either side of a switching. The mains moves by itself meanwhile: how much is learned between reports without a
switching, and a contact is bad only where the loss stands out of that four times over. What the amperes of the house's
other heaters lose on the common way is not this socket's: where they changed as its own did, that much is taken off.
Ohms are judged at 230 V; at another nominal voltage in proportion to its square, as loads are.
"""

from __future__ import annotations

from math import sqrt

from thermostatd.core.memory import HeaterMemory, Notes
from thermostatd.core.said import said

LEAST_STEP_AMPS = 1.0
WINDOW, FEWEST = 16, 4
LONGEST_GAP_SECONDS = 960.0
BAD_OHMS, USUAL_OHMS = (
    0.65,
    0.3,
)  # over the usual; the usual of a house, its supply's own loop (no published source)
SURE = 4.0
MOST_OHMS = 15.0
FIRST_NOISE, NOISE_SHARE = 0.03, 0.01  # V² a second: as of 1.3 V from minute to minute


def hear(
    notes: Notes, kept: HeaterMemory, settled: bool, nominal_volts: float, others_watts: float = 0.0
) -> str | None:
    """Take one report in; gives the evidence once a contact is surely bad. `others_watts`: what the house's other
    heaters draw meanwhile, W at nominal mains."""
    if not settled or not kept.volts or kept.watts is None or kept.watts_at is None:
        return None
    volts = kept.volts * 230.0 / nominal_volts
    amps = max(kept.watts, 0.0) / kept.volts * nominal_volts / 230.0
    others = round(others_watts / 230.0, 2)
    here = [round(volts, 2), round(amps, 2), kept.watts_at, *([others] if others else [])]
    last, notes["last"] = notes.get("last"), here
    seconds = kept.watts_at - last[2] if last is not None else 0.0
    if last is None or not 0.0 < seconds <= LONGEST_GAP_SECONDS:
        return None
    lost, step, beside = last[0] - volts, amps - last[1], others - sum(last[3:])
    if beside * step > 0.0:
        lost -= _usual(notes) * beside
    if abs(step) < LEAST_STEP_AMPS:
        if abs(step) < 0.3 and abs(beside) < 0.3:
            noise = notes.get("noise", FIRST_NOISE)
            notes["noise"] = round(noise + NOISE_SHARE * (min(lost * lost / seconds, 9.0 * noise) - noise), 5)
        return None
    if abs(lost / step) > MOST_OHMS:
        return None
    variance = notes.get("noise", FIRST_NOISE) * seconds
    row = [*notes.get("row", []), round(lost, 2), round(step, 2), round(variance, 2)]
    notes["row"] = row = row[-3 * WINDOW :]
    steps = list(zip(row[::3], row[1::3], row[2::3], strict=True))
    return _judge(notes, steps) if len(steps) >= FEWEST else None


def _judge(notes: Notes, steps: list[tuple[float, float, float]]) -> str | None:
    information = sum(step * step / max(variance, 0.05) for _, step, variance in steps)
    ohms = sum(lost * step / max(variance, 0.05) for lost, step, variance in steps) / information
    scatter = sum((lost - ohms * step) ** 2 / max(variance, 0.05) for lost, step, variance in steps)
    error = sqrt(max(scatter / (len(steps) - 1), 1.0) / information)
    usual = _usual(notes)
    if ohms > usual + BAD_OHMS - 0.2 and ohms - SURE * error > usual:
        amps = max(abs(step) for _, step, _ in steps)
        return said(
            "The voltage falls by {volts:.1f} V when the heater comes on: {ohms:.1f} ohm are lost on the way, "
            "{usual:.1f} are usual here.",
            volts=ohms * amps, ohms=ohms, usual=usual,
        )  # fmt: skip
    if len(steps) == WINDOW and ohms < usual + BAD_OHMS / 2.0:
        notes["usual"] = round(usual + 0.02 * (min(max(ohms, 0.1), 2.0 * USUAL_OHMS) - usual), 3)
    return None


def _usual(notes: Notes) -> float:
    """What is lost on the way in this house, ohm."""
    return min(float(notes.get("usual", USUAL_OHMS)), 2.0 * USUAL_OHMS)
