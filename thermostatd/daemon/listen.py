"""`thermostatd listen`: hears the broker for a while, says what it recognised, and proposes a house file.

Rules: it only listens, unless the owner says yes to a blink, plug by plug; it writes to a new file only, never
over one; what it needs of the terminal comes in as calls, so that it runs without one too.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.house import Broker
from thermostatd.core.house.tables import BrokerTls
from thermostatd.edge import homie
from thermostatd.edge.broker import Link, client_id_of
from thermostatd.edge.listening import (
    CAUTION,
    Blinked,
    BrokerWords,
    Ear,
    Findings,
    FoundPlug,
    Target,
    blink,
    find,
    house_text,
    room_names,
)

LOOK_SECONDS = 0.5


class ListenError(Exception):
    """Nothing could be proposed; the sentence says why and what to do."""


@dataclass(frozen=True, slots=True)
class Talk:
    """The terminal: `say` a line, `show` progress over the last one, `ask` yes or no, `choose` one of some words."""

    say: Callable[[str], None]
    show: Callable[[str], None]
    ask: Callable[[str], bool]
    choose: Callable[[str, Sequence[str]], str | None]


def hear(broker: BrokerWords, seconds: float, talk: Talk) -> Findings:
    """Listen to everything for some seconds; ListenError where the broker cannot be reached. Ctrl-C ends it early."""
    ear, began = Ear(), time.monotonic()
    link = Link(
        described(broker),
        client_id_of("listen", str(os.getpid())),
        on_message=lambda topic, payload, retained: ear.take(topic, payload, retained, time.monotonic()),
        on_up=lambda: None,
        five=False,
    )
    link.subscribe("#")
    link.start()
    was_up = False
    try:
        while (passed := time.monotonic() - began) < seconds:
            was_up = was_up or link.connected
            if not was_up and passed > 12.0:
                raise ListenError(_by_options(link.trouble))
            talk.show(_progress(passed, seconds, ear, link.trouble))
            time.sleep(min(LOOK_SECONDS, seconds - passed))
    except KeyboardInterrupt:
        talk.say("Stopped early: this is what was heard so far.")
    finally:
        talk.show("")
        link.stop()
    if not was_up and not link.connected and not ear.messages:
        raise ListenError(_by_options(link.trouble))
    return find(ear)


def _by_options(trouble: str | None) -> str:
    """The link's sentence for one who has no house file yet."""
    said = trouble or "the broker does not answer"
    return said.replace("[broker] user and password_file", "--user and --password-file")


def _progress(passed: float, seconds: float, ear: Ear, trouble: str | None) -> str:
    if trouble:
        return trouble
    clock = f"{passed // 60:.0f}:{passed % 60:02.0f} of {seconds // 60:.0f}:{seconds % 60:02.0f}"
    return f"listening {clock}   {ear.messages} messages on {ear.topics} topics"


def described(broker: BrokerWords) -> Broker:
    """The broker as a `[broker]` table."""
    tls = BrokerTls(ca=broker.ca) if broker.ca else None
    return Broker(
        host=broker.host, port=broker.port, user=broker.user, password_file=broker.password_file, tls=tls
    )


def told(found: Findings) -> list[str]:
    """What was recognised, for people."""
    lines = [f"Heard {found.messages} messages on {found.topics} topics."]
    for sensor in found.sensors:
        lines.append(
            f"{'outdoors' if sensor.outdoor else 'sensor'}  {sensor.topic} {sensor.pointer}".rstrip()
        )
        lines += [f"          {one}" for one in sensor.evidence]
    for plug in found.plugs:
        lines.append(f"plug    {plug.name}{'' if plug.settled else '   (its orders are a guess: not tried)'}")
        lines += [f"          {one}" for one in (*plug.evidence, *_orders(plug))]
    return [*lines, *(f"note      {note}" for note in found.notes)]


def _orders(plug: FoundPlug) -> list[str]:
    if plug.orders is None:
        return []
    return [f"orders ({plug.orders.sure}): {plug.orders.topic}; {plug.orders.evidence}"]


def plain(found: Findings) -> dict[str, Any]:
    """The same for a machine."""
    sensors = [
        {"name": one.name, "topic": one.topic, "pointer": one.pointer, "unit": one.unit, "scale": one.scale,
         "outdoor": one.outdoor, "evidence": list(one.evidence)}
        for one in found.sensors
    ]  # fmt: skip
    plugs = [
        {"name": one.name, "homie": one.device is not None, "settled": one.settled, "proven": one.proven,
         "tell": one.orders.topic if one.orders else None, "sure": one.orders.sure if one.orders else "its own word",
         "timer": one.timer, "evidence": list(one.evidence)}
        for one in found.plugs
    ]  # fmt: skip
    return {"messages": found.messages, "topics": found.topics, "sensors": sensors, "plugs": plugs,
            "notes": list(found.notes)}  # fmt: skip


def blink_each(found: Findings, broker: BrokerWords, timer: str | None, talk: Talk) -> None:
    """Offer to blink each plug, one at a time; the answers and the rooms named are noted in the findings."""
    talk.say(CAUTION)
    for plug in found.plugs:
        target = target_of(plug, timer)
        if target is None or not talk.ask(
            f"Blink {plug.name}? It tells {target.tell!r} ON for two seconds, then OFF{_timed(target)}."
        ):
            continue
        seen = blink(described(broker), target)
        _note(plug, target, seen, talk)
        rooms = room_names(found)
        if seen.proven and rooms:
            plug.room = talk.choose("In which room is it?", rooms)


def _timed(target: Target) -> str:
    return "" if target.timer is None else ", and before that ON for three seconds by its own timer"


def _note(plug: FoundPlug, target: Target, seen: Blinked, talk: Talk) -> None:
    plug.proven, plug.disobeyed = seen.proven, seen.reached and not seen.proven
    if not seen.reached:
        talk.say("  the broker was not reached: nothing was told")
    elif seen.proven:
        talk.say("  it went on and off as told")
    else:
        showed = (
            "ON but not OFF: pull it out of the wall" if seen.showed_on else "no ON: these are not its orders"
        )
        talk.say(f"  it showed {showed}")
    if seen.timer is not None:
        plug.timer_proven = seen.timer
        if target.timer_topic is None:
            plug.timer = target.timer
        plug.timer = plug.timer if seen.timer else None
        words = target.timer if target.timer_topic is None else f"{target.timer} at {target.timer_topic}"
        failed = f"told {words!r}, it did not go on and end by itself: these are not the words of its timer"
        talk.say(f"  {'it ends by itself' if seen.timer else failed}")


def target_of(plug: FoundPlug, timer: str | None = None) -> Target | None:
    """What would be told; None where not even a guess is there."""
    if plug.switch is not None:
        topic = plug.switch.topic
        target = Target(f"{topic}/set", "true", "false", topic, "", "true", "false")
        if plug.timer is None or plug.device is None:
            return target
        base = homie.root_topic(plug.device.domain, plug.device.version, plug.device.id)
        return replace(target, timer="{seconds}", timer_topic=f"{base}/{plug.timer}/set")
    if plug.contact is None or plug.orders is None:
        return None
    state, orders = plug.contact, plug.orders
    return Target(orders.topic, orders.on, orders.off, state.trail.topic, state.trail.pointer, state.on, state.off,
                  plug.timer or timer)  # fmt: skip


def proposed(found: Findings, broker: BrokerWords) -> str:
    """The house file. ListenError where no room could be made."""
    try:
        return house_text(found, broker, local_zone())
    except ValueError as fault:
        raise ListenError(
            f"{fault}. Listen for longer (--minutes), let the sensor report, and see that its name may publish"
        ) from fault


def local_zone() -> str:
    """This machine's time zone by its name, else UTC."""
    try:
        named = os.environ.get("TZ", "") or str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2]
        return ZoneInfo(named.lstrip(":")).key if named else "UTC"
    except (ValueError, KeyError, OSError):
        return "UTC"


def write_new(text: str, path: Path) -> None:
    """Write a file that was not there. ListenError where it was: nothing is ever overwritten."""
    try:
        with open(path, "x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise ListenError(f"{path} is there already, and is left as it is: name a new file") from None
    except OSError as fault:
        raise ListenError(f"{path} cannot be written ({fault.strerror}): name another place") from fault
