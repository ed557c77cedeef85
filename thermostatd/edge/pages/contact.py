"""How a heater's state is said: what it is told is not always what its contact shows."""

from __future__ import annotations

from thermostatd.core.results import HeaterResult, Order
from thermostatd.edge.pages.speech import t

UNANSWERED = ("silent-plug", "drawing-while-off")


def state_of(order: Order | None, found: HeaterResult | None) -> str:
    """On, off, or told off and last seen on, by a plug that has had the time to answer: nobody may take it for cold."""
    if order is not None and order.on:
        return t("On.")
    if found is None or found.shown_on is not True:
        return t("Off.")
    owed = any(one.code in UNANSWERED and one.tripped for one in found.verdicts)
    return t("Told OFF, last seen ON.") if owed else t("Off.")
