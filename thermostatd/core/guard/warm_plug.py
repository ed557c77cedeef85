"""Trips, and latches, when the plug's own temperature is high or rises fast: feel the socket."""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict

CODE = "warm-plug"
SAFETY = True
HIGH_CELSIUS = 70.0
RISE_KELVIN, RISE_SECONDS = 20.0, 600.0
RISE_FROM_CELSIUS = 45.0


def judge(case: Case) -> Verdict:
    notes, kept = case.notes(CODE), case.kept
    if kept.warm_celsius is not None and kept.warm_at is not None and kept.warm_at != notes.get("at"):
        _watch(case, kept.warm_celsius, kept.warm_at)
    if not notes.get("latched"):
        return good(CODE)
    return tripped(
        CODE,
        latched=True,
        trouble=True,
        loud=True,
        celsius=notes["hot"],
        evidence=f"It measured {notes['hot']:.0f} °C.",
    )


def _watch(case: Case, celsius: float, at: float) -> None:
    notes = case.notes(CODE)
    lowest, since = notes.get("lowest", celsius), notes.get("since", at)
    if at - since > RISE_SECONDS or celsius < lowest:
        lowest, since = celsius, at
    fast = celsius - lowest >= RISE_KELVIN and celsius >= RISE_FROM_CELSIUS
    if celsius >= HIGH_CELSIUS or fast:
        notes.update(latched=True, hot=celsius)
    notes.update(lowest=lowest, since=since, at=at)
