"""Which topic orders a switch: found by watching orders being obeyed, never by its name alone. Pure.

Rules: an order is a live message with a word for on or off (perhaps with seconds behind it), after which the
switch's state says the same within three seconds; one order that is not obeyed spoils it; a topic whose every
message comes after the state, or that the broker keeps, is an echo and no order. How sure we are is said.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from thermostatd.edge.listening import words
from thermostatd.edge.listening.ear import Trail
from thermostatd.edge.listening.shapes import Contact

OBEYED_WITHIN_SECONDS = 3.0
_TIMED = re.compile(r"^(\S+)([ ,;:])(\d{1,5})$")


@dataclass(frozen=True, slots=True)
class Orders:
    """A topic that orders go to. `sure`: "seen" (obeyed, and named like one), "perhaps", or "guess" (name only).

    `timer` is the payload of a timed ON with `{seconds}` in it, where one was seen.
    """

    topic: str
    on: str
    off: str
    sure: str
    evidence: str
    timer: str | None = None


def orders_of(contact: Contact, trails: Sequence[Trail]) -> Orders | None:
    """The best of what may order this switch; a guess says that it is one. None where nothing may."""
    found = [one for trail in trails if (one := _watched(contact, trail)) is not None]
    seen = sorted(found, key=lambda one: one.sure != "seen")
    return seen[0] if seen else _guess(contact, trails)


def _watched(contact: Contact, trail: Trail) -> Orders | None:
    """This topic as one whose orders this contact obeyed."""
    same_device = words.stem(trail.topic) == words.stem(contact.trail.topic)
    if trail.pointer or trail.topic == contact.trail.topic or not trail.told or trail.live < trail.count:
        return None
    said = [(at, *_order(word)) for at, word in trail.told]
    if any(meant is None for _, meant, _ in said):
        return None
    obeyed = [_obeyed(contact, at, bool(meant)) for at, meant, _ in said]
    changed = sum(one == "changed" for one in obeyed)
    if "not" in obeyed or changed == 0 or {meant for _, meant, _ in said} != {True, False}:
        return None
    named = bool(words.hints(trail.topic) & words.COMMAND)
    if not named and not same_device:
        return None
    timed = next((timer for _, meant, timer in said if meant and timer), None)
    plain = next((word for _, word in trail.told if words.meaning(word) is True), None)
    evidence = f"{len(said)} orders heard there, {changed} of them changed the state within 3 s"
    sure = "seen" if named and same_device and changed >= 2 else "perhaps"
    on = plain or (timed or contact.on).split()[0]
    return Orders(trail.topic, on, _off_word(trail, contact), sure, evidence, timed)


def _order(word: str) -> tuple[bool | None, str | None]:
    """What an order means, and its payload with {seconds} where it carries a number."""
    timed = _TIMED.fullmatch(word)
    if timed and words.meaning(timed[1]) is not None:
        return words.meaning(timed[1]), f"{timed[1]}{timed[2]}{{seconds}}"
    return words.meaning(word), None


def _off_word(trail: Trail, contact: Contact) -> str:
    return next((word for _, word in trail.told if words.meaning(word) is False), contact.off)


def _obeyed(contact: Contact, at: float, meant: bool) -> str:
    """ "changed", "same" or "not": what the state said within three seconds after an order."""
    before = [word for when, word in contact.trail.told if when < at]
    after = [word for when, word in contact.trail.told if at <= when <= at + OBEYED_WITHIN_SECONDS]
    if not any(words.meaning(word) is meant for word in after):
        return "same" if before and words.meaning(before[-1]) is meant else "not"
    known = before and words.meaning(before[-1]) is not None
    return "changed" if known and words.meaning(before[-1]) is not meant else "same"


def _guess(contact: Contact, trails: Sequence[Trail]) -> Orders:
    """A topic by its name alone: one heard beside the state, else the state's own with /set behind it."""
    stem = words.stem(contact.trail.topic)
    for trail in trails:
        near = words.stem(trail.topic) == stem and trail.topic != contact.trail.topic
        if near and not trail.pointer and words.hints(trail.topic) & words.COMMAND:
            evidence = "it is named like one; no order there was seen to be obeyed"
            return Orders(trail.topic, contact.on, contact.off, "guess", evidence)
    evidence = "nobody gave an order while listening; made up from the state's topic"
    return Orders(f"{contact.trail.topic}/set", contact.on, contact.off, "guess", evidence)
