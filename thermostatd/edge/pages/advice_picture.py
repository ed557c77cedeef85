"""Watts needed against watts carried, as a picture: a falling line, a level line a setting, now and the coldest.

Rules: server-made SVG with a title and a description, the same numbers in a table; solid is what is carried, a broken
line is a setting on which the cut-out opens; colours come from the style sheet by class, else from the text around.
"""

from __future__ import annotations

from math import ceil, floor

from markupsafe import Markup, escape

from thermostatd.edge.pages.amounts import amount, limit_degrees, number
from thermostatd.edge.pages.speech import speech, t
from thermostatd.physics.advice import Advice, Setting

WIDTH, HEIGHT, LEFT, BOTTOM, TOP, RIGHT = 320, 200, 44, 26, 10, 8
SIZE = 13


class _Frame:
    """From °C outdoors and watts to the picture's own units."""

    def __init__(self, advice: Advice) -> None:
        ends = [advice.coldest_celsius, advice.outdoor_celsius, advice.target_celsius]
        holds = [
            one.holds_celsius for one in advice.settings if advice.coldest_celsius - 15 < one.holds_celsius
        ]
        self.cold = 5.0 * floor((min([*ends, *holds]) - 1.0) / 5.0)
        self.warm = 5.0 * ceil((max(ends) + 0.5) / 5.0)
        most = max([one.carries_watts for one in advice.settings] + [needed(advice, self.cold), 100.0])
        self.watts = 200.0 * ceil(most / 200.0)

    def x(self, celsius: float) -> float:
        share = (celsius - self.cold) / (self.warm - self.cold)
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)

    def y(self, watts: float) -> float:
        return round(HEIGHT - BOTTOM - watts / self.watts * (HEIGHT - BOTTOM - TOP), 1)


def needed(advice: Advice, celsius: float) -> float:
    """Watts that the room needs at that outdoor air."""
    return max(0.0, advice.loss_watts_per_kelvin * (advice.target_celsius - celsius) - advice.free_watts)


def advice_picture(advice: Advice, name: str) -> Markup:
    """The picture of one heater in its room."""
    frame = _Frame(advice)
    title = t("Watts that the room needs, and what each setting of {heater} carries", heater=name)
    parts = [_axes(frame), *(_setting(frame, one, one is advice.best) for one in advice.settings)]
    marks = ((advice.outdoor_celsius, t("now")), (advice.coldest_celsius, ""))
    parts += [_needed(frame, advice), *(_mark(frame, celsius, word) for celsius, word in marks)]
    return Markup(
        f'<svg class="advice" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" fill="none" stroke="currentColor" '
        f'font-size="{SIZE}"><title>{escape(title)}</title><desc>{escape(described(advice))}</desc>{"".join(parts)}</svg>'
    )


def advice_rows(advice: Advice) -> list[tuple[str, str, str, str]]:
    """The same as a table: setting, what it carries, down to which outdoor air it holds, clicks a day now."""
    return [
        (
            amount(one.watts, "W"),
            _carries(one),
            _degrees(one.holds_celsius),
            number(one.clicks_a_day, 0),
        )
        for one in advice.settings
    ]


def described(advice: Advice) -> str:
    """The picture in words."""
    outdoor, needs = _degrees(advice.outdoor_celsius), amount(advice.needed_watts, "W")
    words = [t("At {celsius} outside the room needs {watts}.", celsius=outdoor, watts=needs)]
    for one in advice.settings:
        watts, held = amount(one.watts, "W"), _degrees(one.holds_celsius)
        words.append(
            t(
                "{watts} carries {carried}, down to {celsius}.",
                watts=watts,
                carried=_carries(one),
                celsius=held,
            )
        )
    return " ".join(words)


def _degrees(celsius: float) -> str:
    return limit_degrees(speech().unit, float(round(celsius)))


def _carries(one: Setting) -> str:
    carried = amount(one.carries_watts, "W")
    return t("{watts} in turns, since its cut-out opens", watts=carried) if one.opens else carried


def _axes(frame: _Frame) -> str:
    marks = []
    step = 5 if frame.warm - frame.cold <= 30 else 10  # more labels would run into each other
    for celsius in range(step * ceil(frame.cold / step), int(frame.warm) + 1, step):
        x = frame.x(celsius)
        marks.append(f'<path class="hair" d="M{x} {TOP}V{HEIGHT - BOTTOM}" opacity=".25"/>')
        marks.append(_text(x, HEIGHT - 8, _degrees(celsius), "middle"))
    level = 200 if frame.watts <= 1000 else 500
    for watts in range(0, int(frame.watts) + 1, level):
        y = frame.y(watts)
        marks.append(f'<path class="hair" d="M{LEFT} {y}H{WIDTH - RIGHT}" opacity=".25"/>')
        marks.append(_text(LEFT - 4, y + 4, str(watts), "end"))
    return "".join(marks)


def _needed(frame: _Frame, advice: Advice) -> str:
    free = advice.target_celsius - advice.free_watts / advice.loss_watts_per_kelvin
    warm = min(max(free, frame.cold), frame.warm)
    begins = f"M{frame.x(frame.cold)} {frame.y(needed(advice, frame.cold))}"
    ends = f"{begins}L{frame.x(warm)} {frame.y(needed(advice, warm))}"
    return f'<path class="needed" d="{ends}H{frame.x(frame.warm)}" stroke-width="2"/>'


def _setting(frame: _Frame, one: Setting, best: bool) -> str:
    y, wide = frame.y(one.carries_watts), 3 if best else 1.5
    broken = ' stroke-dasharray="5 4"' if one.opens else ""
    label = _text(WIDTH - RIGHT, y - 4, amount(one.watts, "W"), "end")
    kind = "setting best" if best else "setting"
    return f'<path class="{kind}" d="M{LEFT} {y}H{WIDTH - RIGHT}" stroke-width="{wide}"{broken}/>{label}'


def _mark(frame: _Frame, celsius: float, word: str) -> str:
    x = frame.x(min(max(celsius, frame.cold), frame.warm))
    label = _text(x + 3, TOP + 10, word, "start") if word else ""
    return f'<path class="mark" d="M{x} {TOP}V{HEIGHT - BOTTOM}" stroke-dasharray="1 3"/>{label}'


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x}" y="{y}" text-anchor="{anchor}" fill="currentColor" stroke="none">{escape(words)}</text>'
