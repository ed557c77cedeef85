"""Draws the frontier: excess against switches a day, one panel a house, for the guide on how the laws compare.

Rules: the distance is that of the hours in which the heater has power to spare; shape tells the laws apart, not
colour alone; the page's own colours, by day and in the dark; the guide's table says the same in words.
"""

from __future__ import annotations

from pathlib import Path

from tests.bench.plant.goals import Point

WIDE, HIGH, LEFT, TOP, BOTTOM, GAP = 660, 300, 44, 28, 40, 36
MOST_CLICKS, MOST_EXCESS = 140.0, 0.6
WORDS = {"hysteresis": "hysteresis", "proportional": "proportional", "predictive": "predictive"}


def drawn(panels: dict[str, list[Point]]) -> str:
    """The whole SVG."""
    wide = (WIDE - LEFT - GAP * len(panels)) / max(1, len(panels))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {HIGH}" role="img" '
        'aria-labelledby="frontier-title" font-family="sans-serif" font-size="13">',
        '<title id="frontier-title">Distance from an ideal against switches a day, by law; the table beside it '
        "gives the numbers</title>",
        STYLE,
    ]
    for index, (house, points) in enumerate(panels.items()):
        parts.append(_panel(house, points, LEFT + index * (wide + GAP), wide))
    parts.append("</svg>\n")
    return "\n".join(parts)


STYLE = """<style>
.ink { fill: #20262a } .rule { stroke: #777265; stroke-width: 1 } .own { fill: #9c1f2e; stroke: #9c1f2e }
.peer { fill: none; stroke: #20262a; stroke-width: 1.5 } .cross { stroke: #1f5a66; stroke-width: 2; fill: none }
.way { fill: none; stroke-width: 1.5 } .own.way { fill: none }
@media (prefers-color-scheme: dark) { .ink { fill: #ece6d8 } .rule { stroke: #8a8478 }
.own { fill: #e8806f; stroke: #e8806f } .peer { stroke: #ece6d8 } .cross { stroke: #7fb3c4 } }
</style>"""


def _panel(house: str, points: list[Point], left: float, wide: float) -> str:
    def x(clicks: float) -> float:
        return left + wide * min(clicks, MOST_CLICKS) / MOST_CLICKS

    def y(kelvin: float) -> float:
        return TOP + (HIGH - TOP - BOTTOM) * (1.0 - min(kelvin, MOST_EXCESS) / MOST_EXCESS)

    parts = [f'<text class="ink" x="{left:.0f}" y="16">{house} house</text>']
    for tenth in range(0, 7, 1):
        at = y(tenth / 10)
        parts.append(
            f'<line class="rule" x1="{left:.0f}" x2="{left + wide:.0f}" y1="{at:.1f}" y2="{at:.1f}" opacity="0.4"/>'
        )
        parts.append(
            f'<text class="ink" x="{left - 6:.0f}" y="{at + 4:.1f}" text-anchor="end">{tenth / 10:g}</text>'
        )
    for clicks in range(0, int(MOST_CLICKS) + 1, 40):
        parts.append(
            f'<text class="ink" x="{x(clicks):.1f}" y="{HIGH - BOTTOM + 18}" text-anchor="middle">{clicks}</text>'
        )
    parts.append(
        f'<text class="ink" x="{left + wide:.0f}" y="{HIGH - 6}" text-anchor="end">switches a day; upright: K</text>'
    )
    for kind in WORDS:
        ones = sorted((one for one in points if one.kind == kind), key=lambda one: one.clicks)
        way = " ".join(f"{x(one.clicks):.1f},{y(one.strong):.1f}" for one in ones)
        style = {"hysteresis": "peer", "proportional": "cross", "predictive": "own"}[kind]
        if len(ones) > 1:
            parts.append(f'<polyline class="{style} way" points="{way}" opacity="0.6"/>')
        parts += [
            _mark(kind, style, x(one.clicks), y(one.strong), f"{kind} {one.label}: {one.told}")
            for one in ones
        ]
        if ones:
            last = ones[-1] if kind != "hysteresis" else ones[0]
            parts.append(
                f'<text class="ink" x="{x(last.clicks) + 8:.1f}" y="{y(last.strong) - 8:.1f}">{WORDS[kind]}</text>'
            )
    return "\n".join(parts)


def _mark(kind: str, style: str, x: float, y: float, told: str) -> str:
    title = f"<title>{told}</title>"
    if kind == "predictive":
        return f'<circle class="{style}" cx="{x:.1f}" cy="{y:.1f}" r="5">{title}</circle>'
    if kind == "hysteresis":
        return f'<rect class="{style}" x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8">{title}</rect>'
    return f'<path class="{style}" d="M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10">{title}</path>'


HEAD = "| law | setting | K from the ideal | in all hours | switches a day |\n|---|---|---|---|---|"
BEGINS, ENDS = "\n### Light house\n", "\nYour rooms are not these."


def markdown(panels: dict[str, list[Point]]) -> str:
    """The same as tables of a guide."""
    parts = []
    for house, points in panels.items():
        parts.append(f"\n### {house.capitalize()} house\n\n{HEAD}")
        parts += [
            f"| {one.kind} | {one.label} | {one.strong:.2f} | {one.excess:.2f} | {one.clicks:.0f} |"
            for one in points
        ]
    return "\n".join(parts) + "\n"


def publish(panels: dict[str, list[Point]], folder: Path) -> None:
    """Writes laws.svg, and the tables of laws.md where that guide is in the folder. ValueError if it has no place."""
    (folder / "laws.svg").write_text(drawn(panels), encoding="utf-8")
    guide = folder / "laws.md"
    if guide.exists():
        text = guide.read_text(encoding="utf-8")
        before, ends = text.find(BEGINS), text.find(ENDS)
        if not 0 < before < ends:
            raise ValueError(f'{guide}: has no tables between "{BEGINS.strip()}" and "{ENDS.strip()}"')
        guide.write_text(text[:before] + markdown(panels) + text[ends:], encoding="utf-8")
