"""Clashes of MQTT topics: what two plugs say in one place, orders sent to where another plug speaks, and topics of the
program's own."""

from __future__ import annotations

from collections.abc import Iterator

from thermostatd.core.house import House
from thermostatd.core.house.clashes_heaters import told_topics
from thermostatd.core.house.places import heaters_of, room_sensors
from thermostatd.core.house.plug_kinds import HomiePlug
from thermostatd.core.house.plugs import MqttPlug, Plug
from thermostatd.core.house.remarks import Clash, KeyPath

OWN = "thermostatd/"
"""Below this the program itself tells what it does: it would hear its own words."""
_HEARD = ("shows", "draws", "volts", "warm", "present", "ask_state")
_MEND_OWN = "Write the device's own topic: those below thermostatd/ are this program's"


def topic_clashes(house: House) -> Iterator[Clash]:
    """Every clash of the house's topics."""
    yield from _shown_alike(house)
    yield from _told_where_another_speaks(house)
    for path, topic in _all_topics(house):
        if topic.startswith(OWN):
            yield Clash(path, f'"{topic}" is a topic of the program itself', _MEND_OWN)


def _shows(plug: Plug) -> tuple[tuple[str, ...], str, str] | None:
    """The key, topic and pointer at which a plug tells its contact's state."""
    if isinstance(plug, HomiePlug):
        return ("switch",), plug.topic(plug.switch), ""
    if not isinstance(plug, MqttPlug) or plug.shows is None:
        return None
    return ("shows", "topic"), plug.shows.topic, plug.shows.pointer


def _shown_alike(house: House) -> Iterator[Clash]:
    seen: dict[tuple[str, str], str] = {}
    for place in heaters_of(house):
        shown = _shows(place.heater.plug)
        if shown is None or isinstance(place.heater.plug, HomiePlug):  # its orders' topic clashes as well
            continue
        key, *where = shown
        other = seen.setdefault((where[0], where[1]), place.key)
        if other != place.key:
            what = f'"{where[0]}" shows the plug of {other} already: each would be taken for the other'
            yield Clash((*place.path, "plug", *key), what, "Write the topic on which this plug itself tells")


def _told_where_another_speaks(house: House) -> Iterator[Clash]:
    speaks = {shown[1]: place.key for place in heaters_of(house) if (shown := _shows(place.heater.plug))}
    for place in heaters_of(house):
        for key, topic in told_topics(place.heater.plug):
            other = speaks.get(topic, place.key)
            if other != place.key:
                what = f'"{topic}" is where the plug of {other} tells its state: an order would be taken for that'
                yield Clash((*place.path, "plug", *key), what, "Write the topic on which this plug takes orders")


def _all_topics(house: House) -> Iterator[tuple[KeyPath, str]]:
    for name, source in (("outdoor", house.house.outdoor), ("forecast", house.house.forecast)):
        if source is not None:
            yield ("house", name, "topic"), source.topic
    for path, sensor in room_sensors(house):
        yield (*path, "topic"), sensor.topic
    for place in heaters_of(house):
        plug, where = place.heater.plug, (*place.path, "plug")
        if not isinstance(plug, MqttPlug):
            continue
        yield from (((*where, *key), topic) for key, topic in told_topics(plug))
        for name in _HEARD:
            source = getattr(plug, name)
            if source is not None:
                yield (*where, name, "topic"), source.topic
