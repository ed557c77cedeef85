"""The report in one answer of a plug that was asked, by the pointers of the house file. Pure."""

from __future__ import annotations

from thermostatd.core.house.plug_kinds import AskedPlug, Part
from thermostatd.core.values import Missing, PlugReport
from thermostatd.edge.broker_payload import number_from, shown, word_from
from thermostatd.edge.plugs.errands import ErrandError
from thermostatd.edge.plugs.hearing import VOLTS, WARM_CELSIUS, WATTS


def report_from(answer: bytes, plug: AskedPlug) -> PlugReport:
    """What the answer tells. ErrandError where something in it cannot be read."""
    return PlugReport(
        on=_contact(answer, plug),
        watts=_number(answer, plug.draws, WATTS),
        volts=_number(answer, plug.volts, VOLTS),
        warm_celsius=_number(answer, plug.warm, WARM_CELSIUS),
    )


def _contact(answer: bytes, plug: AskedPlug) -> bool | None:
    if plug.shows is None:
        return None
    word = word_from(answer, plug.shows.pointer)
    if word in (plug.shows.on, plug.shows.off):
        return word == plug.shows.on
    why = word.why if isinstance(word, Missing) else f"{shown(word)} is neither of its words for on and off"
    raise ErrandError(f"its answer cannot be read: {why}")


def _number(answer: bytes, part: Part | None, bounds: tuple[float, float]) -> float | None:
    if part is None:
        return None
    number = number_from(answer, part.pointer, lowest=bounds[0], highest=bounds[1], scale=part.scale)
    if isinstance(number, Missing):
        raise ErrandError(f"its answer cannot be read: {number.why}")
    return number
