"""Cautions on plugs: what keeps a heater on when nobody decides, and what nobody would see."""

from __future__ import annotations

from collections.abc import Iterator

from thermostatd.core.house import House
from thermostatd.core.house.places import Place, heaters_of
from thermostatd.core.house.plug_kinds import AddedPlug, HomiePlug, HttpPlug, ProgramPlug
from thermostatd.core.house.plugs import MqttPlug, SimulatedPlug
from thermostatd.core.house.remarks import Caution, Danger, KeyPath


def plug_cautions(house: House) -> Iterator[Caution]:
    """Every caution on the plugs of the house."""
    for place in heaters_of(house):
        plug, where = place.heater.plug, (*place.path, "plug")
        if isinstance(plug, SimulatedPlug):
            continue
        if not plug.switches_itself_off:
            what = "the plug cannot switch itself off: if it is cut off from what tells it, it stays as it was"
            yield Danger((*where, "no_self_off"), what, "Use a plug with a timer where you can")
        if plug.power_on is None:
            what = "after a power cut the plug may come back on by itself"
            mend = 'Set its power-on state to off, then write power_on = "off"'
            yield Caution((*where, "power_on"), what, mend)
        if isinstance(plug, HttpPlug | ProgramPlug | AddedPlug):
            what = "it is no client of the broker: if this machine dies, only the plug's own timer ends its heat"
            yield Caution((*where, "kind"), what, "Try its timer by hand, and prefer a plug on the broker")
        yield from _blind(place, where)


def _blind(place: Place, where: KeyPath) -> Iterator[Caution]:
    plug = place.heater.plug
    if not plug.tells_contact:
        what = "the plug does not tell whether it is on, so no order can be proven"
        yield Caution((*where, "shows"), what, "Write shows = { … } if the plug tells its state")
    elif isinstance(plug, MqttPlug) and plug.shows is not None and plug.shows.topic == plug.tell:
        what = "the plug's state is read where orders go: an order would pass for its own proof"
        yield Caution((*where, "shows", "topic"), what, "Write the topic on which the plug itself tells")
    if not plug.tells_power:
        what = "without a meter a welded contact or a knocked-over heater is not seen"
        key = "power" if isinstance(plug, HomiePlug) else "draws"
        yield Caution((*where, key), what, f"Write {key} = … if the plug meters power")
    if not place.heater.may_run:
        what = "is empty: the heater never runs"
        yield Caution((*place.path, "may_run"), what, 'Write may_run = ["awake"], or take the heater out')
