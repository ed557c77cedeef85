"""The owner's gauges: one scale of watts or amperes, printed once, and a rail that hangs from it for each thing.

Rules: as on the score: solid is what is, hollow what is set, dots what was learned, hatching what is not to be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from thermostatd.edge.pages.amounts import number

_STEPS = (1, 2, 2.5, 5)


@dataclass(frozen=True, slots=True)
class Ruler:
    """A scale from zero to `high`, in any unit."""

    high: float

    def x(self, value: float) -> float:
        """Per cent of the width, kept on the scale."""
        return round(100 * min(1.0, max(0.0, value / self.high)), 2)

    @property
    def marks(self) -> list[tuple[float, str]]:
        """x and label of about five printed numbers."""
        rough = self.high / 5
        size = 10 ** math.floor(math.log10(rough))
        step = next((k * size for k in _STEPS if k * size >= rough), 10 * size)
        return [
            (self.x(n * step), number(n * step, 0 if step >= 1 else 1))
            for n in range(1, int(self.high / step) + 1)
            if n * step < 0.97 * self.high
        ]


def ruler_over(values: Iterable[float]) -> Ruler:
    """A scale that holds all of these, with a tenth to spare."""
    return Ruler(1.1 * max([1.0, *(value for value in values if math.isfinite(value))]))


def gauge(
    ruler: Ruler,
    now: float | None,
    *,
    set_to: float | None = None,
    learned: Sequence[float] = (),
    over: float | None = None,
    end: float | None = None,
) -> Markup:
    """One rail, 32 px high: a solid bar to `now`, a hollow rider at `set_to`, dots at what was learned, hatching
    from `over` to `end`."""
    last = ruler.x(end if end is not None else ruler.high)
    parts = [f'<line class="track" x1="0" x2="{last}%" y1="16" y2="16"/>']
    if over is not None and end is not None and end > over:
        left, right = ruler.x(over), ruler.x(end)
        parts.append(f'<rect x="{left}%" y="9" width="{right - left:.2f}%" height="14" class="hatch"/>')
        parts.append(f'<line class="tick" x1="{left}%" x2="{left}%" y1="8" y2="24"/>')
    if now is not None and now > 0:
        parts.append(f'<rect class="is" x="0" y="12" width="{ruler.x(now)}%" height="8"/>')
    parts += [f'<circle class="dot" cx="{ruler.x(one)}%" cy="16" r="3"/>' for one in learned]
    if set_to is not None:
        parts.append(f'<svg x="{ruler.x(set_to)}%" class="out rider"><path d="M-5 3h10v26h-10z"/></svg>')
    return Markup(f'<svg class="rail" height="32" width="100%" aria-hidden="true">{"".join(parts)}</svg>')
