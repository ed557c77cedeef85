"""Typical heaters of each kind, from what their labels say.

Rules: every constant here is common practice, with no published source: a column heater sold as 1500 W
sheds about 600 W for long; on full power its cut-out opens after about ten minutes and leaves the low
element, 588 W metered. Other kinds shed their label and trip only when something is wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from thermostatd.physics.heaters import Cutout, HeaterDesign, Selection, ohms_for

Kind = Literal["oil-filled", "panel", "convector", "infrared"]

OIL_FILLED_SETTINGS_WATTS = (588.0, 912.0, 1500.0)
OIL_FILLED_SHED_WATTS = 626.0  # of a body sold as 1500 W, at its cut-out in a room of 20 °C
LOW_SHARE = 588.0 / 1500.0


@dataclass(frozen=True, slots=True)
class Make:
    """A kind's build, per watt of label: its rise at label power K, capacity J/(K·W), and its switches °C."""

    rise_kelvin: float
    joules_per_kelvin_watt: float
    opens_celsius: float
    closes_celsius: float
    manual_celsius: float
    fuse_celsius: float
    radiant_share: float


MAKES: dict[Kind, Make] = {
    "oil-filled": Make(62.0, 11_500.0 / OIL_FILLED_SHED_WATTS, 82.0, 66.0, 130.0, 167.0, 0.35),
    "panel": Make(60.0, 2.5, 105.0, 85.0, 140.0, 167.0, 0.40),
    "convector": Make(80.0, 1.2, 130.0, 105.0, 160.0, 184.0, 0.15),
    "infrared": Make(90.0, 3.0, 150.0, 120.0, 180.0, 200.0, 0.60),
}


def selector(
    settings_watts: Sequence[float], volts: float
) -> tuple[tuple[float, ...], tuple[Selection, ...]]:
    """Element resistances Ω and selector positions that give `settings_watts`, W, low to high, at `volts`.

    Three settings of which the last is the sum of the others are two elements; otherwise each adds one.
    """
    steps = sorted(set(settings_watts))
    if not steps or steps[0] <= 0:
        raise ValueError("a heater needs settings over 0 W")
    if len(steps) == 3 and abs(steps[2] - steps[1] - steps[0]) <= 0.06 * steps[2]:
        pair = (ohms_for(steps[0], volts), ohms_for(steps[2] - steps[0], volts))
        return pair, (Selection((0,)), Selection((1,)), Selection((0, 1)))
    added = [after - before for before, after in zip([0.0, *steps], steps, strict=False)]
    return (
        tuple(ohms_for(watts, volts) for watts in added),
        tuple(Selection(tuple(range(count + 1))) for count in range(len(steps))),
    )


def settings_of(kind: Kind, watts: float, settings_watts: Sequence[float] = ()) -> tuple[float, ...]:
    """The selector's choices, W: as written, or what such a heater usually has.

    An oil-filled heater on less than 1000 W is taken to be on its low setting.
    """
    if settings_watts:
        return tuple(sorted({*settings_watts, watts}))
    if kind != "oil-filled":
        return (watts,)
    label = watts if watts >= 1000 else watts / LOW_SHARE
    return (LOW_SHARE * label, (1.0 - LOW_SHARE) * label, label)


def heater_design(
    kind: Kind,
    watts: float,
    volts: float,
    settings_watts: Sequence[float] = (),
    sustained_watts: float | None = None,
    capacity: float = 1.0,
    output: float = 1.0,
) -> HeaterDesign:
    """A typical heater of a kind whose selector is set to `watts` at nominal `volts`.

    `capacity` and `output` multiply the body's store and its output: no two heaters are alike.
    """
    settings = settings_of(kind, watts, settings_watts)
    make, ohms_and_choices = MAKES[kind], selector(settings, volts)
    shed = settings[-1]
    if kind == "oil-filled":
        shed = sustained_watts or settings[-1] * OIL_FILLED_SHED_WATTS / OIL_FILLED_SETTINGS_WATTS[-1]
    elements = range(len(ohms_and_choices[0]))
    guarded = elements[1:] if kind == "oil-filled" and len(elements) > 1 else elements
    return HeaterDesign(
        element_ohms=ohms_and_choices[0],
        selections=ohms_and_choices[1],
        body_joules_per_kelvin=capacity * make.joules_per_kelvin_watt * shed,
        watts_per_kelvin_n=output * shed / make.rise_kelvin**1.3,
        cutout=Cutout(make.opens_celsius, make.closes_celsius),
        guarded=frozenset(guarded),
        manual_reset_celsius=make.manual_celsius,
        fuse_celsius=make.fuse_celsius,
        radiant_share=make.radiant_share,
    )


def oil_filled(volts: float = 230.0) -> HeaterDesign:
    """The column heater sold as 1500 W, with settings of 588, 912 and 1500 W."""
    return heater_design("oil-filled", 1500.0, volts, OIL_FILLED_SETTINGS_WATTS)
