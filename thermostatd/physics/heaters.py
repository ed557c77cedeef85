"""A portable electric heater: elements, selector, body, and what opens its circuit.

Rules: P = V²/R; the body stores heat and gives it as K·ΔT^n (EN 442: n = 1.3 for a column radiator);
whatever opens acts on the body's own temperature, never on the room's; nothing that latched closes
without `reset`. Nobody opens a heater on this model's word: it describes, it does not repair.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

EN442_EXPONENT = 1.3
LONGEST_STEP_SECONDS = 10.0
COVERED_SHARE = 0.4  # of the output that is left under a cloth; common practice, no published source
COVERED_SENSED = 1.5  # the hot top under it, as a multiple of the body's mean rise; no published source


def ohms_for(watts: float, volts: float) -> float:
    """Resistance that draws `watts` at `volts`, Ω (Ohm)."""
    if not (watts > 0 and volts > 0):
        raise ValueError("an element needs watts and volts over zero")
    return volts * volts / watts


def watts_for(ohms: float, volts: float) -> float:
    """Power of a resistance at `volts`, W (Ohm)."""
    if not ohms > 0:
        raise ValueError(
            "an element of 0 Ω or less is a short circuit: measure it cold, unplugged, at the plug's pins"
        )
    if not volts >= 0:
        raise ValueError("volts cannot be negative: write the mains voltage, such as 230")
    return volts * volts / ohms


def joined_ohms(ohms: Sequence[float], in_series: bool) -> float:
    """Resistance of elements in series or in parallel, Ω."""
    if not ohms or min(ohms) <= 0:
        raise ValueError("name at least one element, each over 0 Ω")
    return sum(ohms) if in_series else 1.0 / sum(1.0 / one for one in ohms)


def output_share(
    rise_kelvin: float, nominal_rise_kelvin: float = 50.0, exponent: float = EN442_EXPONENT
) -> float:
    """Output over nominal output at another rise over the room (EN 442): (ΔT/ΔT_nominal)^n."""
    if rise_kelvin < 0 or nominal_rise_kelvin <= 0:
        raise ValueError("a rise cannot be negative, the nominal rise must be over zero")
    return float((rise_kelvin / nominal_rise_kelvin) ** exponent)


@dataclass(frozen=True, slots=True)
class Selection:
    """One position of the selector: the elements it joins (by index), in parallel unless `in_series`."""

    elements: tuple[int, ...]
    in_series: bool = False


@dataclass(frozen=True, slots=True)
class Cutout:
    """A switch on the body: opens at or over one temperature, closes at or under another, °C."""

    opens_celsius: float
    closes_celsius: float

    def __post_init__(self) -> None:
        if not self.closes_celsius < self.opens_celsius:
            raise ValueError("a cut-out must close at a lower temperature than it opens at")


@dataclass(frozen=True, slots=True)
class HeaterDesign:
    """What a heater is made of. `guarded` are the elements behind the self-resetting cut-out.

    `watts_per_kelvin_n` is K of K·ΔT^n; `radiant_share` of the output goes to surfaces, the rest to air.
    """

    element_ohms: tuple[float, ...]
    selections: tuple[Selection, ...]
    body_joules_per_kelvin: float
    watts_per_kelvin_n: float
    cutout: Cutout
    guarded: frozenset[int]
    exponent: float = EN442_EXPONENT
    manual_reset_celsius: float = inf
    fuse_celsius: float = inf
    radiant_share: float = 0.3

    def __post_init__(self) -> None:
        if not self.element_ohms or min(self.element_ohms) <= 0:
            raise ValueError("a heater needs elements, each over 0 Ω")
        named = {index for selection in self.selections for index in selection.elements}
        if not named or not named | self.guarded <= set(range(len(self.element_ohms))):
            raise ValueError("selections and cut-out must name elements that the heater has")
        if min(self.body_joules_per_kelvin, self.watts_per_kelvin_n) <= 0:
            raise ValueError("the body's capacity and output must be over zero")

    def selection_ohms(self, index: int, without: frozenset[int] = frozenset()) -> float:
        """Resistance of a selector position, Ω, with some elements open; inf when nothing conducts."""
        selection = self.selections[index]
        live = [self.element_ohms[one] for one in selection.elements if one not in without]
        if not live or (selection.in_series and len(live) < len(selection.elements)):
            return inf
        return joined_ohms(live, selection.in_series)

    def selection_watts(self, index: int, volts: float) -> float:
        """What a selector position draws at `volts` with everything closed, W."""
        return watts_for(self.selection_ohms(index), volts)

    def nearest_selection(self, watts: float, volts: float) -> int:
        """The selector position whose power at `volts` is nearest to `watts`."""
        return min(range(len(self.selections)), key=lambda one: abs(self.selection_watts(one, volts) - watts))

    def sustained_watts(self, room_celsius: float = 20.0) -> float:
        """What the body sheds for long just under its cut-out, W."""
        rise = max(self.cutout.opens_celsius - room_celsius, 0.0)
        return float(self.watts_per_kelvin_n * rise**self.exponent)

    def tau_seconds(self, room_celsius: float = 20.0) -> float:
        """The time constant of the output just under its cut-out, s: C·ΔT/(n·P) (derived)."""
        rise = max(self.cutout.opens_celsius - room_celsius, 0.0)
        return self.body_joules_per_kelvin * rise / (self.exponent * self.sustained_watts(room_celsius))


class Flow(NamedTuple):
    """Mean watts of a step: taken from the mains by the elements, and given to the room."""

    drawn: float
    given: float


@dataclass(slots=True)
class HeaterBody:
    """One heater's state. `dial_celsius` is the dial on the body (inf: fully up).

    `trips` counts openings of the cut-out that interrupted an element.
    """

    design: HeaterDesign
    selection: int = 0
    body_celsius: float = 20.0
    dial_celsius: float = inf
    dial_hysteresis_kelvin: float = 5.0
    covered: bool = False
    tipped: bool = False
    burnt: frozenset[int] = frozenset()
    cutout_open: bool = False
    dial_open: bool = False
    manual_open: bool = False
    fuse_open: bool = False
    trips: int = 0
    _memo: tuple[tuple[object, ...], float] = field(default=((), inf), repr=False)

    @property
    def ohms(self) -> float:
        """What the plug sees now with its contact closed, Ω; inf when the heater is open somewhere."""
        if self.fuse_open or self.manual_open or self.dial_open or self.tipped:
            return inf
        state = (self.selection, self.burnt, self.cutout_open)
        if self._memo[0] != state:
            without = self.burnt | self.design.guarded if self.cutout_open else self.burnt
            self._memo = (state, self.design.selection_ohms(self.selection, without))
        return self._memo[1]

    def step(
        self,
        seconds: float,
        volts: float,
        contact_closed: bool,
        room_celsius: float,
        series_ohms: float = 0.0,
    ) -> Flow:
        """Lets `seconds` pass at `volts` behind `series_ohms` of bad contact; the balance closes exactly."""
        if seconds <= LONGEST_STEP_SECONDS:
            return self._short(seconds, volts, contact_closed, room_celsius, series_ohms)
        drawn = given = 0.0
        left = seconds
        while left > 0:
            part = min(left, LONGEST_STEP_SECONDS)
            flow = self._short(part, volts, contact_closed, room_celsius, series_ohms)
            drawn, given, left = drawn + part * flow[0], given + part * flow[1], left - part
        return Flow(drawn / seconds, given / seconds)

    def _short(
        self, seconds: float, volts: float, closed: bool, room_celsius: float, series_ohms: float
    ) -> Flow:
        design = self.design
        ohms = self.ohms if closed else inf
        amps = volts / (ohms + series_ohms)
        drawn = amps * amps * ohms if amps else 0.0
        rise = self.body_celsius - room_celsius
        given = design.watts_per_kelvin_n * abs(rise) ** design.exponent
        if self.covered:
            given *= COVERED_SHARE
        if rise < 0:
            given = -given
        self.body_celsius += seconds * (drawn - given) / design.body_joules_per_kelvin
        self._switches(room_celsius)
        return Flow(drawn, given)

    def _switches(self, room_celsius: float) -> None:
        rise = self.body_celsius - room_celsius
        sensed = room_celsius + (COVERED_SENSED * rise if self.covered else rise)
        design = self.design
        if self.cutout_open:
            self.cutout_open = sensed > design.cutout.closes_celsius
        elif sensed >= design.cutout.opens_celsius:
            self.cutout_open = True
            self.trips += self._is_guarded  # with nothing behind it, its opening interrupts nothing
        if sensed >= self.dial_celsius:
            self.dial_open = True
        elif sensed <= self.dial_celsius - self.dial_hysteresis_kelvin:
            self.dial_open = False
        if sensed >= design.manual_reset_celsius:
            self.manual_open = True
        if sensed >= design.fuse_celsius:
            self.fuse_open = True

    @property
    def _is_guarded(self) -> bool:
        """Whether a live element of this selection is behind the cut-out."""
        live = frozenset(self.design.selections[self.selection].elements) - self.burnt
        return not live.isdisjoint(self.design.guarded)

    def reset(self) -> None:
        """Someone puts it right: uncovered, upright, dial up, sound elements and fuse, cut-outs reset."""
        self.covered = self.tipped = self.manual_open = self.fuse_open = False
        self.burnt, self.dial_celsius, self.dial_open = frozenset(), inf, False

    @property
    def stored_joules(self) -> float:
        """Heat stored over 0 °C, J."""
        return self.design.body_joules_per_kelvin * self.body_celsius
