"""What a value looks like, judged by how it behaves and, beside that, by plain words in its topic. Pure.

Rules: a retained value alone proves nothing; every shape carries its evidence in words; what is not
recognised is left out, never guessed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from thermostatd.edge.listening import words
from thermostatd.edge.listening.ear import Trail

AIR = (-30.0, 60.0)
LIKELY_AIR = (5.0, 35.0)
FASTEST_KELVIN = 3.0
WATTS_RANGE = (-5.0, 4000.0)
VOLTS_RANGE = (90.0, 260.0)


@dataclass(frozen=True, slots=True)
class Temperature:
    """A temperature-like value; `unit` C or F, `scale` what it is to be multiplied by."""

    trail: Trail
    unit: str
    scale: float
    evidence: str
    outdoor: bool


@dataclass(frozen=True, slots=True)
class Contact:
    """A value that says on or off. `both` tells whether both words were heard."""

    trail: Trail
    on: str
    off: str
    both: bool
    evidence: str


@dataclass(frozen=True, slots=True)
class Meter:
    """A power or a voltage."""

    trail: Trail
    scale: float
    evidence: str


@dataclass(frozen=True, slots=True)
class Presence:
    """A value that says whether a device is there."""

    trail: Trail
    yes: str
    no: str
    evidence: str


def temperature(trail: Trail) -> Temperature | None:
    """A number in a room's range that moves slowly, with a word that says so or with decimals and patience."""
    said = words.hints(trail.topic, trail.pointer)
    last = words.hints(trail.pointer or trail.topic.rpartition("/")[2])
    named = bool(said & words.TEMPERATURE) and not last & (words.OTHER | words.HUMIDITY | words.BATTERY)
    values = [value for _, value in trail.numbers]
    gone = [word for _, word in trail.told if word.lower() in words.GONE]
    if not values or (trail.no_number - len(gone)) * 10 > trail.count:
        return None
    unit, scale = _unit(values, last, named)
    kelvins = [(value * scale - 32) / 1.8 if unit == "F" else value * scale for value in values]
    if not all(AIR[0] <= value <= AIR[1] for value in kelvins) or _jumps(kelvins):
        return None
    if not named and not _patiently_air(kelvins, last):
        return None
    told = _span_words("temperature-like", trail, values, scale)
    told += f'; said "{gone[0]}" {_times(len(gone))}, which is no reading' if gone else ""
    return Temperature(trail, unit, scale, told, bool(said & words.OUTDOOR))


def _unit(values: list[float], last: frozenset[str], named: bool) -> tuple[str, float]:
    middle = median(values)
    if last & words.FAHRENHEIT or (named and 45 < middle <= 110):
        return "F", 1.0
    if named and 110 < middle <= 400 and all(value == int(value) for value in values):
        return "C", 0.1
    if named and 400 < middle <= 4000 and all(value == int(value) for value in values):
        return "C", 0.01
    return "C", 1.0


def _jumps(values: list[float]) -> bool:
    return any(abs(after - before) > FASTEST_KELVIN for before, after in pairwise(values))


def _patiently_air(values: list[float], last: frozenset[str]) -> bool:
    """Without a word for it: at least four values with decimals, all such as a room has, and some movement."""
    other = words.OTHER | words.HUMIDITY | words.BATTERY | words.WATTS | words.VOLTS | words.KILOWATTS
    if (
        last & other
        or len(values) < 4
        or not all(LIKELY_AIR[0] <= value <= LIKELY_AIR[1] for value in values)
    ):
        return False
    return any(value != int(value) for value in values) and len(set(values)) > 1


def contact(trail: Trail) -> Contact | None:
    """One or two words of one pair, nothing else."""
    if trail.too_many_words or not trail.words:
        return None
    for on, off in words.PAIRS:
        heard = set(trail.words)
        if not heard <= {on, off}:
            continue
        last = words.hints(trail.pointer or trail.topic.rpartition("/")[2])
        named = bool(last & words.STATE)
        both = heard == {on, off}
        if not named and (on == "1" or last & (words.PRESENCE - words.STATE)):
            return None
        if not named and not both and trail.live == 0:
            return None
        said = f'says "{on}" and "{off}"' if both else f'said only "{heard.pop()}"'
        return Contact(trail, on, off, both, f"a switch's state: {said}, {_times(trail.count)}")
    return None


def meter(trail: Trail, contacts: list[Contact]) -> Meter | None:
    """A power: named so, or high while a contact of its device is on and near zero while it is off."""
    values = [value for _, value in trail.numbers]
    last = words.hints(trail.pointer or trail.topic.rpartition("/")[2])
    if trail.no_number or last & (words.OTHER | words.VOLTS | words.TEMPERATURE):
        return None
    if not values and trail.kept_number is None:
        return None
    scale = 1000.0 if last & words.KILOWATTS else 1.0
    heard = values or [trail.kept_number or 0.0]
    if not all(WATTS_RANGE[0] <= value * scale <= WATTS_RANGE[1] for value in heard):
        return None
    follows = _follows(trail, contacts, scale)
    if not follows and not last & (words.WATTS | words.KILOWATTS):
        return None
    said = _span_words("power-like", trail, heard, scale, "W")
    return Meter(trail, scale, f"{said}{'; high while on, near zero while off' if follows else ''}")


def _follows(trail: Trail, contacts: list[Contact], scale: float) -> bool:
    """Whether the values are over 15 W while some contact of the same stem is on, and under it while off."""
    for one in contacts:
        if words.stem(one.trail.topic) != words.stem(trail.topic):
            continue
        on = [value * scale for at, value in trail.numbers if _word_at(one.trail, at) == one.on]
        off = [value * scale for at, value in trail.numbers if _word_at(one.trail, at) == one.off]
        if on and off and median(on) > 15.0 > median(off):
            return True
    return False


def _word_at(trail: Trail, at: float) -> str | None:
    said = None
    for when, word in trail.told:
        if when > at + 0.05:
            break
        said = word
    return said


def volts(trail: Trail) -> Meter | None:
    """A mains voltage, named so."""
    values = [value for _, value in trail.numbers]
    last = words.hints(trail.pointer or trail.topic.rpartition("/")[2])
    if not values or trail.no_number or not last & words.VOLTS:
        return None
    if not all(VOLTS_RANGE[0] <= value <= VOLTS_RANGE[1] for value in values):
        return None
    return Meter(trail, 1.0, _span_words("mains-like", trail, values, 1.0, "V"))


def presence(trail: Trail) -> Presence | None:
    """Words of one pair for being there, or true and false under a word that says presence."""
    heard = set(trail.words)
    if trail.too_many_words or not heard:
        return None
    last = words.hints(trail.pointer or trail.topic.rpartition("/")[2])
    pairs = words.PRESENCE_PAIRS + (words.PAIRS if last & (words.PRESENCE - words.STATE) else ())
    for yes, no in pairs:
        if heard <= {yes, no}:
            said = " and ".join(f'"{word}"' for word in sorted(heard))
            return Presence(trail, yes, no, f"availability-like: says {said}")
    return None


def _span_words(what: str, trail: Trail, values: list[float], scale: float, unit: str = "") -> str:
    lowest, highest = min(values) * scale, max(values) * scale
    span = f"{lowest:.4g}" if f"{lowest:.4g}" == f"{highest:.4g}" else f"{lowest:.4g}–{highest:.4g}"
    return f"{what}, {pace(trail)}, {span}{' ' + unit if unit else ''}"


def pace(trail: Trail) -> str:
    """How often it speaks, in words."""
    times = [at for at, _ in trail.told]
    if len(times) < 2:
        return "heard once" if times else "kept by the broker, not heard live"
    gap = median(after - before for before, after in pairwise(times))
    return f"every {gap:.0f} s" if gap >= 1.5 else f"every {gap:.1f} s"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"
