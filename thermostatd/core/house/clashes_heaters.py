"""Clashes of heaters and their plugs: watts that contradict, topics told twice, plugs without a timer.

A plug that cannot switch itself off stays on when its broker dies, or when it is cut off from it. It is taken
only on the owner's explicit word, only while people are awake, and never for a spot.
"""

from __future__ import annotations

from collections.abc import Iterator

from thermostatd.core.house import House
from thermostatd.core.house.currents import SLACK_AMPS, amps_at_nominal
from thermostatd.core.house.places import Place, heaters_of
from thermostatd.core.house.plug_base import Shown
from thermostatd.core.house.plug_kinds import HomiePlug, HttpPlug, ProgramPlug
from thermostatd.core.house.plugs import MqttPlug, Plug
from thermostatd.core.house.remarks import Clash, plain
from thermostatd.core.house.rooms import Spot


def heater_clashes(house: House) -> Iterator[Clash]:
    """Every clash of the house's heaters and plugs."""
    for place in heaters_of(house):
        yield from _watts(place)
        yield from _weak_plug(house, place)
        yield from _no_self_off(place)
        yield from _payloads(place)
    yield from _shared_topics(house)


def _watts(place: Place) -> Iterator[Clash]:
    heater = place.heater
    if heater.sustained_watts is not None and heater.sustained_watts > heater.watts:
        what = f"{plain(heater.sustained_watts)} W is over watts, {plain(heater.watts)} W"
        yield Clash((*place.path, "sustained_watts"), what, "Write what it sheds for hours, or leave it out")


def _weak_plug(house: House, place: Place) -> Iterator[Clash]:
    """A plug that carries less than the heater draws at nominal volts, for hours: it may burn."""
    rated, amps = place.heater.plug.rated_amps, amps_at_nominal(place.heater.watts, house.house)
    if rated is not None and rated < amps - SLACK_AMPS:
        what = f"{plain(rated)} A is too low for the {plain(amps)} A that its heater draws: it may burn"
        mend = "Use a plug rated higher, or set the selector lower and write its watts"
        yield Clash((*place.path, "plug", "rated_amps"), what, mend)


def _no_self_off(place: Place) -> Iterator[Clash]:
    plug, where = place.heater.plug, (*place.path, "plug")
    if plug.switches_itself_off:
        return
    if isinstance(place.owner, Spot):
        what = "its plug has no timer: nothing ends its heat if host and broker die"
        yield Clash((*where, "timer"), what, 'Use a plug with one: timer = { payload = "true {seconds}" }')
    elif plug.no_self_off is None:
        mend = 'Write timer = { payload = "true {seconds}" }, or no_self_off = "accepted" if it has none'
        yield Clash((*where, "timer"), "the plug cannot switch itself off", mend)
    else:
        unattended = [when for when in place.heater.may_run if when != "awake"]
        if unattended:
            what = f"names {' and '.join(unattended)}, yet its plug cannot switch itself off"
            mend = 'Write may_run = ["awake"], or use a plug with a timer'
            yield Clash((*place.path, "may_run"), what, mend)


def _payloads(place: Place) -> Iterator[Clash]:
    plug = place.heater.plug
    if isinstance(plug, MqttPlug) and plug.on == plug.off:
        what = f'"{plug.off}" means both on and off'
        yield Clash((*place.path, "plug", "off"), what, "Write the two different payloads")
    elif isinstance(plug, MqttPlug) and plug.timer and plug.timer.then_on and plug.timer.topic in (None, plug.tell):
        what = "an ON told after the seconds, on the same topic, would last without end"
        yield Clash((*place.path, "plug", "timer", "then_on"), what, "Leave it out, or write the timer's own topic")
    elif isinstance(plug, HttpPlug | ProgramPlug) and plug.on == plug.off:
        yield Clash((*place.path, "plug", "off"), "is the same as on", "Write what switches it off")
    elif isinstance(plug, MqttPlug) and plug.shows is not None and _one_word(plug, plug.shows):
        what = "has one word for on and off"
        yield Clash((*place.path, "plug", "shows"), what, "Write the two different words")


def _one_word(plug: MqttPlug, shows: Shown) -> bool:
    return (shows.on or plug.on) == (shows.off or plug.off)


def _shared_topics(house: House) -> Iterator[Clash]:
    told: dict[str, str] = {}
    for place in heaters_of(house):
        plug = place.heater.plug
        for key, topic in told_topics(plug):
            if topic in told:
                what = f'"{topic}" also tells the plug of {told[topic]}: both would switch together'
                yield Clash((*place.path, "plug", *key), what, "Give each plug its own topic")
            told.setdefault(topic, place.key)


def told_topics(plug: Plug) -> list[tuple[tuple[str, ...], str]]:
    """Every topic that orders of this plug go to, with its key."""
    if isinstance(plug, HomiePlug):
        return [(("switch",), f"{plug.topic(plug.switch)}/set")]
    if not isinstance(plug, MqttPlug):
        return []
    topics: list[tuple[tuple[str, ...], str]] = [(("tell",), plug.tell)]
    if plug.timer and plug.timer.topic and plug.timer.topic != plug.tell:
        topics.append((("timer", "topic"), plug.timer.topic))
    return topics
