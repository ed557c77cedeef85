"""The house file that findings propose: whole, with the evidence as comments, and such that `check` takes it.

Rules: a plug's heater stands there ready only if its orders are more than a guess and it can switch itself off,
or the owner said that it cannot; else the same lines stand as comments, with what is missing. Nothing that was
heard on the broker can break out of its quotes or its comment.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from thermostatd.edge.listening import words
from thermostatd.edge.listening.ear import Trail
from thermostatd.edge.listening.findings import Findings, FoundPlug, FoundSensor
from thermostatd.edge.listening.shapes import Presence

HEAD = """\
# Proposed by `thermostatd listen` from what was heard on the broker. Look at every line before you heat.
# Heat can hurt, and software is never the safety device: the heater's manual decides whether it may be switched from
# afar. Straight into a wall socket; one metre clear; a working smoke alarm; feel plug and socket in the first hours.
# Then: thermostatd check THIS-FILE"""
PAGES = """\
[pages]
listen = "127.0.0.1:8420"     # this machine alone; "0.0.0.0:8420" lets phones on the home network reach it\
"""
CIRCUIT = """\
# What hangs on one breaker shares it. Write each breaker that has a heater behind it, and its name at the heaters:
# [[circuit]]
# name = "north sockets"
# breaker_amps = 16\
"""
WATTS_UNKNOWN = 600


@dataclass(frozen=True, slots=True)
class BrokerWords:
    """How the broker was reached, to be written down."""

    host: str
    port: int
    user: str | None = None
    password_file: str | None = None
    ca: str | None = None


def house_text(found: Findings, broker: BrokerWords, timezone: str) -> str:
    """The whole proposed file. ValueError where nothing was heard that tells a room's temperature."""
    inside = [one for one in found.sensors if not one.outdoor]
    if not inside:
        raise ValueError("nothing was heard that looks like a room's temperature")
    outdoor = [one for one in found.sensors if one.outdoor]
    names = _names(inside)
    blocks = [HEAD, _house(outdoor, timezone), _broker(broker), PAGES, CIRCUIT]
    left = list(found.plugs)
    for sensor, name in zip(inside, names, strict=True):
        mine = _plugs_for(name, inside, left, names)
        left = [plug for plug in left if plug not in mine]
        blocks.append(_room(sensor, name, mine))
    if left:
        blocks.append(_elsewhere(left))
    if found.notes:
        blocks.append("\n".join(_comment(f"Not read: {note}.") for note in found.notes))
    return "\n\n".join(blocks) + "\n"


def room_names(found: Findings) -> list[str]:
    """The names that the rooms get, in the file's order."""
    return _names([one for one in found.sensors if not one.outdoor])


def _names(sensors: Sequence[FoundSensor]) -> list[str]:
    names: list[str] = []
    taken: set[str] = set()
    for number, sensor in enumerate(sensors, 1):
        name = words.name_from(sensor.name, f"room {number}")
        if name.casefold() in taken:
            name = f"{name[:36].strip()} {number}"
        taken.add(name.casefold())
        names.append(name)
    return names


def _house(outdoor: Sequence[FoundSensor], timezone: str) -> str:
    lines = ["[house]", 'name = "Our house"', f"timezone = {_quoted(timezone)}     # this machine's: write your own",
             'asleep = { from = "23:00", to = "06:30" }     # your own hours']  # fmt: skip
    for number, sensor in enumerate(outdoor):
        lines += [_comment(f"outdoors: {one}") for one in sensor.evidence]
        lines.append(f"{'' if number == 0 else '# '}outdoor = {_sensor(sensor)}")
    return "\n".join(lines)


def _broker(broker: BrokerWords) -> str:
    lines = ["[broker]", f"host = {_quoted(broker.host)}", f"port = {broker.port}"]
    lines += [f"user = {_quoted(broker.user)}"] if broker.user else []
    lines += [f"password_file = {_quoted(broker.password_file)}"] if broker.password_file else []
    lines += [f"tls = {{ ca = {_quoted(broker.ca)} }}"] if broker.ca else []
    return "\n".join(lines)


def _plugs_for(
    name: str, sensors: Sequence[FoundSensor], plugs: Sequence[FoundPlug], names: Sequence[str]
) -> list[FoundPlug]:
    """The plugs that the owner put here, or that share a word with the room; the only one with the only room."""
    mine = [plug for plug in plugs if plug.room == name]
    said = words.hints(name) - words.GENERIC - words.PLUGS
    for plug in plugs:
        shared = said & words.hints(plug.name)
        if plug.room is None and any(not word.isdigit() for word in shared):
            mine.append(plug)
    if not mine and len(sensors) == 1 and len(plugs) == 1 and plugs[0].room is None:
        mine = list(plugs)
    return mine


def _room(sensor: FoundSensor, name: str, plugs: Sequence[FoundPlug]) -> str:
    lines = [_comment(one) for one in sensor.evidence]
    lines += ["[[room]]", f"name = {_quoted(name)}", f"sensor = {_sensor(sensor)}",
              'household = { lowest = 15, highest = 22, longest = "12 h" }',
              'usual = [{ at = "07:30", celsius = 20 }, { at = "22:00", celsius = 16 }]']  # fmt: skip
    taken: set[str] = set()
    for plug in plugs:
        lines += ["", *_heater(plug, _free_name(plug, taken))]
    return "\n".join(lines)


def _free_name(plug: FoundPlug, taken: set[str]) -> str:
    base = words.name_from(plug.name, "heater")
    name, number = base, 2
    while name.casefold() in taken:
        name, number = f"{base[:36].strip()} {number}", number + 1
    taken.add(name.casefold())
    return name


def _elsewhere(plugs: Iterable[FoundPlug]) -> str:
    lines = [
        "# Plugs whose room is not known. Find each (`thermostatd listen --blink`), and put its lines under its room."
    ]
    for plug in plugs:
        lines += ["", *_commented(_heater(plug, words.name_from(plug.name, "heater")))]
    return "\n".join(lines)


def _heater(plug: FoundPlug, name: str) -> list[str]:
    """The heater's lines, as comments where something is missing."""
    lines = [_comment(one) for one in (*plug.evidence, *_order_words(plug))]
    missing = _missing(plug)
    watts = WATTS_UNKNOWN if plug.watts_seen is None else max(1, min(4000, round(plug.watts_seen)))
    seen = "the most its meter showed" if plug.watts_seen else "not known"
    body = ["[[room.heater]]", f"name = {_quoted(name)}",
            f"watts = {watts}     # {seen}: write what the heater's selector is set to; begin with its lowest",
            f"plug = {_plug(plug)}"]  # fmt: skip
    if not missing:
        return [*lines, *body]
    lines.append(_comment(f"NOT READY: {missing}. Then take the # away from these lines:"))
    return [*lines, *_commented(body)]


def _order_words(plug: FoundPlug) -> list[str]:
    if plug.proven:
        said = ["we told it ON and OFF, and it showed both"]
        return [*said, "told ON for some seconds, it went off by itself"] if plug.timer_proven else said
    if plug.device is not None or plug.orders is None:
        return []
    sure = {"seen": "orders", "perhaps": "PERHAPS its orders", "guess": "A GUESS at its orders"}[
        plug.orders.sure
    ]
    return [f"{sure}: {plug.orders.topic}; {plug.orders.evidence}"]


def _missing(plug: FoundPlug) -> str:
    """What keeps the heater from standing there ready; "" where nothing does."""
    parts = []
    if plug.disobeyed and plug.orders is not None:
        parts.append(f"told at {plug.orders.topic} it did not obey: these are not its orders; its manual has them")
    elif not plug.settled:
        parts.append("nobody saw this plug obey; try it with --blink, or by hand")
    if plug.contact is not None and not plug.contact.both and not plug.proven:
        parts.append("only one of its two words was heard")
    if plug.device is not None and plug.timer is not None and not plug.timer_proven:
        parts.append(f"nobody saw {plug.timer} end an ON by itself; try it with --blink")
    if plug.timer is None:
        parts.append('its ON does not end by itself as far as is known: give timer = { payload = "… {seconds}" } '
                     'from its manual, or no_self_off = "accepted"')  # fmt: skip
    return "; and ".join(parts)


def _plug(plug: FoundPlug) -> str:
    if plug.device is not None and plug.switch is not None:
        return _inline(_homie_plug(plug))
    assert plug.contact is not None
    assert plug.orders is not None
    state, orders = plug.contact, plug.orders
    shows = _value(state.trail)
    shows |= {"on": state.on} if state.on != orders.on else {}
    shows |= {"off": state.off} if state.off != orders.off else {}
    table: dict[str, object] = {
        "kind": "mqtt",
        "tell": orders.topic,
        "on": orders.on,
        "off": orders.off,
        "shows": shows,
    }
    for key, meter in (("draws", plug.draws), ("volts", plug.volts)):
        if meter is not None:
            table[key] = _value(meter.trail) | ({"scale": meter.scale} if meter.scale != 1.0 else {})
    if plug.warm is not None and plug.warm.unit == "C" and plug.warm.scale == 1.0:
        table["warm"] = _value(plug.warm.trail)
    if plug.present is not None:
        table["present"] = _presence(plug.present)
    if plug.timer is not None:
        table["timer"] = {"payload": plug.timer}
    return _inline(table)


def _homie_plug(plug: FoundPlug) -> dict[str, object]:
    device, switch = plug.device, plug.switch
    assert device is not None
    assert switch is not None
    table: dict[str, object] = {"kind": "homie", "device": device.id, "switch": switch.path}
    table |= {"domain": device.domain} if device.domain != "homie" else {}
    table |= {"version": device.version} if device.version != 5 else {}
    root = device.state_topics[-1].split("/")[-2]
    table |= {"root": root} if root != device.id else {}
    meter = next((one for one in device.properties if one.power_scale is not None), None)
    if meter is not None:
        table["power"] = meter.path
        table |= {"power_scale": meter.power_scale} if meter.power_scale != 1.0 else {}
    return table | ({"timer": plug.timer} if plug.timer else {})


def _sensor(sensor: FoundSensor) -> str:
    table: dict[str, object] = {"topic": sensor.topic}
    table |= {"pointer": sensor.pointer} if sensor.pointer else {}
    table |= {"unit": "F"} if sensor.unit == "F" else {}
    table |= {"scale": sensor.scale} if sensor.scale != 1.0 else {}
    if sensor.present is not None:
        table["present"] = _presence(sensor.present)
    if sensor.state_topic is not None:
        table["present"] = {"topic": sensor.state_topic, "yes": "ready", "no": "lost"}
    return _inline(table)


def _value(trail: Trail) -> dict[str, object]:
    """Where a value stands."""
    table: dict[str, object] = {"topic": trail.topic}
    return table | ({"pointer": trail.pointer} if trail.pointer else {})


def _presence(found: Presence) -> dict[str, object]:
    return _value(found.trail) | {"yes": found.yes, "no": found.no}


def _inline(table: dict[str, object]) -> str:
    """A table on one line, as TOML writes it."""
    parts = []
    for key, value in table.items():
        shown = (
            _inline(value)
            if isinstance(value, dict)
            else _quoted(value)
            if isinstance(value, str)
            else f"{value:g}"
        )
        parts.append(f"{key} = {shown}")
    return "{ " + ", ".join(parts) + " }"


def _quoted(text: str) -> str:
    """A TOML basic string. JSON's escapes are TOML's, save that DEL must be escaped too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def _comment(text: str) -> str:
    """One line of comment, whatever was in the text."""
    return "# " + "".join(sign if sign.isprintable() else " " for sign in text)[:300]


def _commented(lines: Iterable[str]) -> list[str]:
    return [line if line.startswith("#") else f"# {line}".rstrip() for line in lines]
