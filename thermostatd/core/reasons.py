"""The closed list of reason codes, and the sentence that each becomes. Sentences are made here alone.

A code not listed here cannot be used: `reason()` raises KeyError. Numbers in braces come with the code.
"""

from __future__ import annotations

from thermostatd.core.results import Reason
from thermostatd.core.said import Said, said

DEMANDS = {
    "warming": "Warming towards {target:.1f}°.{eta}",
    "warm-enough": "Warm enough.",
    "few-switchings": "{under:.1f}° under {target:.1f}°. It heats again before long: more often would wear the plug.",
    "kept-for-later": "Quiet hours: {left:.0f} switchings are left until {until}, and kept for later.",
    "room-off": "This room is off. Under {target:.1f}° it is heated against frost.",
    "coasting": "Warm enough. The heater is still giving heat.",
    "cooling-down": "Cooling down to {target:.1f}°.",
    "preheating": "Warming early: {target:.1f}° is wanted in {minutes:.0f} minutes.",
    "portion": "Heating {percent:.0f} % of the time to hold {target:.1f}°.",
    "portion-rest": "Between two spells of heat, {percent:.0f} % of the time.",
    "cheap-hours": "A little warmer while electricity is cheap: up to {target:.1f}° until {until}.",
    "dear-hours": "A little cooler while electricity is dear: {target:.1f}° until {until}.",
    "dear-heating": "Heating to {target:.1f}° only, while electricity is dear: until {until}.{eta}",
    "window-open": "A window seems to be open: no heat until {until}, or until the air recovers.",
    "cannot-reach": "This heater cannot reach {target:.1f}° by {by}: {reach:.1f}° is what it can do. "
    "It holds {target:.1f}° down to {outdoor:.0f}° outside.",
    "cannot-hold": "This heater cannot reach {target:.1f}° below {outdoor:.0f}° outside: {reach:.1f}° is what "
    "it can do.",
    "base-on": "Carries the steady part of the heat; another heater does the rest.",
    "not-needed": "Not needed now: the room's other heater is enough.",
    "no-air": "No temperature to go by.",
    "no-heater": "No heater is described for this room.",
    "spot-on": "Warming you: {minutes:.0f} min to go.",
    "spot-off": "Nobody asks for warmth here.",
    "by-hand": "Someone used the plug's own button; that holds until {until}.",
    "demand-failed": "The control law failed ({what}); the heater stays off.",
}

PACES = {
    "rest": "Resting: {minutes:.0f} min to go.",
    "spell": "Finishing its run: {minutes:.0f} min to go.",
    "quiet": "Quiet hours: its {switches:.0f} switchings are used up until {until}.",
}

TURNS = {
    "turn-next": "Next in line: {circuit} starts one heater at a time.",
    "turn-over": "Its turn is over: {circuit} does not carry all of them at once.",
    "turn-never": "It draws up to {amps:.1f} A, more than the {share:.1f} A that {circuit} carries for hours. "
    "Set its selector lower.",
}

INTERLOCKS = {
    "stopping": "The heating program is going down.",
    "drawing-while-off": "The plug was told OFF and still carries {watts:.0f} W. Pull it out of the wall.",
    "warm-plug": "The plug is {celsius:.0f} °C warm. Feel the socket.",
    "bad-socket": "The voltage sags at this socket when the heater is on. Leave the socket alone.",
    "all-off": "Everything is off. {who} said so at {at}.",
    "ceiling": "{celsius:.1f}° is over this room's ceiling of {ceiling:.1f}°.",
    "reading-missing": "No good temperature: {why}.",
    "clock": "The clock cannot be trusted since {since}.",
    "starting": "Just started: waiting to hear from {what}.",
    "silent-plug": "The plug does not answer.",
    "covered": "The heater's own cut-out opened far too early. Is it covered, or against a wall?",
    "opens-early": "The heater goes off by itself far too early. Does something lie on it, or is its dial turned down?",
    "no-answer": "The heater draws power, but this room does not get warmer. Is it standing here?",
    "drawing-nothing": "The heater is switched on but draws nothing. Is it standing upright, plugged in and turned up?",
    "overshoot": "{over:.1f}° warmer than wanted.",
    "not-allowed-now": "{then}, and the owner has not allowed this heater then.",
    "longest-run": "It ran for {hours:.0f} hours and rests ten minutes.",
    "circuit": "Waiting its turn: {circuit} carries no more at once beside {names}.",
    "pacing": "The heater cools a little, so that its own cut-out stays shut.",
    "cut-out": "The heater's own cut-out opened.",
}

REFUSALS = {
    "no-such-room": 'There is no room "{name}".',
    "no-such-spot": 'There is no spot "{name}".',
    "no-such-heater": 'There is no heater "{name}".',
    "no-such-setting": "Its selector has {settings}: choose one of them.",
    "not-watts": "That is no power of a heater: write watts such as 600.",
    "stays-at-spot": "A spot's heater stays at its spot. Move it in the house file.",
    "no-such-trouble": 'There is no trouble "{name}" now.',
    "nothing-to-cancel": "There is nothing to take back: nothing was asked.",
    "not-a-number": "That is not a number: write degrees such as 20.5.",
    "not-understood": "That was not understood: {what}.",
    "too-warm": "{limit:.1f}° is the warmest that may be asked for here.",
    "too-cold": "{limit:.1f}° is the coolest that may be asked for here.",
    "too-long": "A request may hold for {limit} at most.",
    "in-the-past": "That time has passed already: choose a later one.",
    "ends-before": "That would end before it begins: choose a later end.",
    "too-far-ahead": "A wish may begin within {limit:.0f} days. For later, change the usual week.",
    "too-many-waiting": "{limit:.0f} wishes wait for their time here already: take one of them back first.",
    "asked-then": "{who} asked for {celsius:.1f}° from {begins} until {until} already: take that back first.",
    "room-is-off": "This room is off{until}. Turn it on first, or choose a later time.",
    "everyone-out": "Everyone is out{until}. Say first that someone is back.",
    "everything-off": "Everything is off. Turn heating on again first.",
    "spot-not-now": "{then}, and the owner has not allowed this heater then.",
    "nothing-to-undo": "That can no longer be undone: its minute is over, or someone asked again since.",
    "week-too-long": "A week may have {limit:.0f} steps at most.",
    "week-step": "{at} is there twice on one day: each time once.",
}

HAPPENINGS = {
    "switched-on": "ON: {why}",
    "switched-off": "OFF: {why}",
    "asked": "{who} asked for {celsius:.1f}° until {until}.",
    "asked-later": "{who} asked for {celsius:.1f}° from {begins} until {until}.",
    "begun": "What {who} asked for begins: {celsius:.1f}° until {until}.",
    "turned-off": "{who} turned this room off until {until}.",
    "warm-me": "{who} asked for warmth for {minutes:.0f} minutes.",
    "warm-longer": "{who} asked for warmth for {minutes:.0f} minutes from now, "
    "in place of the {left:.0f} that were left.",
    "usual-spot": "A usual time of this place: warmth for {minutes:.0f} minutes.",
    "spot-felt": "While it is on, it feels about {kelvins:.1f}° warmer {metres:.1f} m in front of it. The air's "
    "temperature shows neither that nor the risk of a burn.",
    "out": "{who} said that everyone is out until {until}.",
    "out-moved": "{who} moved the return: everyone is out until {until}.",
    "said-all-off": "{who} turned everything off.",
    "cancelled": "{who} took back the {celsius:.1f}°{until} that {by} had asked for.",
    "withdrawn": "{who} took back the {celsius:.1f}° from {begins} until {until} that {by} had asked for.",
    "seen": "{who} has looked at it.",
    "stands": "{who} said that {heater} now stands in {room}.",
    "set-to": "{who} said that {heater} is now set to {watts:.0f} W.",
    "undone": "{who} took the last change back.",
    "week-changed": "{who} changed the usual week.",
    "week-put-back": "{who} put the house file's week back.",
    "narrowed": "What {who} asked, {before:.1f}°, is {celsius:.1f}° now: the limit.",
    "shortened": "What {who} asked holds until {until} now: the house file allows no longer.",
    "request-ended": "What {who} asked has ended.",
    "trouble": "{what} {evidence}",
    "trouble-over": "Over: {what}",
    "cut-out-opened": "Power fell from {before:.0f} W to {after:.0f} W while on: its own cut-out opened.",
    "went-off": "Power went from {before:.0f} W to nothing while on and came back by itself: it is covered, or its "
    "dial is turned down.",
    "cut-out-closed": "Power is back at {watts:.0f} W: its own cut-out closed.",
    "way-lost": "The way to the plug was lost, and the broker told it OFF.",
    "pressed-on": "Someone pressed the plug's button: ON.",
    "pressed-off": "Someone pressed the plug's button: OFF.",
    "reading-refused": "A reading was refused: {why}.",
    "battery-low": "The sensor's battery is at {percent:.0f} %.",
    "clock-doubted": "The wall clock jumped by {minutes:.0f} minutes; the usual week stands still.",
    "clock-believed": "The wall clock is believed again.",
    "follows": "Until now this was {before} in the house file: what was learned of it goes on, and what waits for a "
    "look waits on.",
    "left-file": "It is no longer in the house file under this name. What was learned of it does not go on.",
}

ADVICE = {
    "advice-keep": "Its {watts:.0f} W setting suits: it holds {target:.0f}° down to {outdoor:.0f}° outside.",
    "advice-weak": "Its {watts:.0f} W setting carries most, and holds {target:.0f}° only down to {outdoor:.0f}° "
    "outside. Colder days need another heater.",
    "advice-lower-opens": "Set it to its {watts:.0f} W setting: it will hold {target:.0f}° down to {outdoor:.0f}° "
    "outside; on {now:.0f} W its cut-out opens.",
    "advice-least-weak": "Set it to its {watts:.0f} W setting: it carries most, and holds {target:.0f}° down to "
    "{outdoor:.0f}° outside; on {now:.0f} W its cut-out opens.",
    "advice-lower": "Set it to its {watts:.0f} W setting: it will hold {target:.0f}° down to {outdoor:.0f}° outside, "
    "with {more:.0f} clicks a day fewer than on {now:.0f} W.",
    "advice-higher": "Set it to its {watts:.0f} W setting: on {now:.0f} W it holds {target:.0f}° only down to "
    "{held:.0f}° outside.",
    "advice-opens": "Set it to its {watts:.0f} W setting: on {now:.0f} W its cut-out opens. How cold it holds is "
    "not known yet.",
}
"""What is said of a heater's setting; the owner's pages and `report` show it."""

LEARNED = {
    "room-loses": "It loses about {loss:.0f} W for each degree between it and outdoors ({loss_low:.0f} to "
    "{loss_high:.0f}). How long it keeps its warmth is not known yet.",
    "room-knows": "It loses about {loss:.0f} W for each degree between it and outdoors ({loss_low:.0f} to "
    "{loss_high:.0f}). Left alone, two thirds of that difference are gone in about {hours:.0f} hours ({hours_low:.0f} "
    "to {hours_high:.0f}).",
}
"""What is said of a room once a model of it was learned."""

SENTENCES: dict[str, str] = {**DEMANDS, **PACES, **TURNS, **INTERLOCKS, **REFUSALS, **HAPPENINGS, **LEARNED}

CODES: dict[str, str] = {template: code for code, template in SENTENCES.items()}
"""The code of each sentence."""

# What a trouble is called, and what a person should do about it.
TROUBLES: dict[str, tuple[str, str]] = {
    "drawing-while-off": (
        "A plug that should be off carries power.",
        "Pull the plug out of the wall now. Its contacts may be welded: do not use that plug again.",
    ),
    "warm-plug": (
        "A plug is getting hot.",
        "Feel the plug and the socket. Hot, discoloured or smelling: leave it off and call an electrician.",
    ),
    "silent-plug": (
        "A plug does not answer; it may be on.",
        "Look at the plug. If it is on and should not be, switch the heater off at its own switch "
        "and pull the plug out.",
    ),
    "no-answer": (
        "A heater draws power, but its room does not get warmer.",
        "See whether the heater stands in the room that it is listed under, "
        "and whether the sensors are in the right rooms.",
    ),
    "ceiling": (
        "A room is far too warm, though its heaters were told OFF.",
        "Go and look. If a heater gives heat, switch it off at its own switch, pull its plug out of the wall, and do "
        "not use that plug again: its contacts may be welded. If a stove or the sun warms the room, nothing is to be "
        "done.",
    ),
    "drawing-nothing": (
        "A heater is switched on but draws nothing.",
        "Look at the heater, in this order: standing upright? nothing on it or close to it? plugged in? switched on, "
        "its dial turned up? once it is clear and cool, its reset pressed, if it has one? The meter cannot tell these "
        "apart. If it stays dead, its fuse may have gone: do not open it, replace it.",
    ),
    "covered": (
        "A heater is covered, or stands against a wall.",
        "Go and look now: take off what lies on it, and give it a metre of clear space all round. "
        "Then say that you have looked.",
    ),
    "opens-early": (
        "A heater is covered, or its dial is turned down.",
        "Go and look now, in this order: does something lie on it, or stand close to it? Clear a metre all round. "
        "Then its dial: turn it fully up. Then say that you have looked.",
    ),
    "bad-socket": (
        "A socket has a bad contact: its voltage sags under load.",
        "Stop using this socket and plug. Feel them: hot, discoloured or smelling means danger. "
        "Let an electrician see the socket.",
    ),
    "cut-out": (
        "A heater's own cut-out does the regulating.",
        "Set its selector lower: the setting is more than its body can shed for hours, and each opening wears the "
        "cut-out. See that nothing covers it.",
    ),
    "dial-down": (
        "The dial on a heater is turned down.",
        "Turn the heater's own dial fully up: the room's temperature is kept by the plug.",
    ),
    "element-out": (
        "One of a heater's elements seems to have burnt out.",
        "Look whether its selector was turned to something new. If not, replace the heater; do not open it.",
    ),
    "selector-moved": (
        "A heater's selector is not where it was.",
        "Turn it back. If it is to stay so, say that you have looked, and choose what it is set to now under Heaters, "
        "or write the new watts in the house file.",
    ),
    "less-power": (
        "A heater draws less than it did: its selector was turned, or an element has burnt out.",
        "Look at its selector: the meter cannot tell the two apart. If nobody turned it, an element is burnt: replace "
        "the heater, do not open it. If it is to stay so, say that you have looked.",
    ),
    "reading-missing": (
        "A room's temperature is not known.",
        "Look at the sensor: its battery, its place, its connection. The room stays unheated until it is heard.",
    ),
    "clock": (
        "The computer's clock cannot be trusted.",
        "See that the computer has the right time, then say that you have looked. Rooms stay off until then, "
        "or until the clock has gone evenly for two hours.",
    ),
    "longest-run": (
        "A spot's heater ran for as long as it may.",
        "If warmth is still wanted, look at the heater first, then ask again.",
    ),
    "starting": (
        "A plug has not been heard since the start.",
        "See that it is plugged in and connected; a press on its button usually makes it speak.",
    ),
    "cold-room": (
        "A room stays cold.",
        "See whether a window or an outside door stands open, and whether its heaters give heat. The room's page says "
        "what they do. No pipe should depend on portable heaters: where water may freeze, shut it off and drain it.",
    ),
    "battery-low": ("A sensor's battery is nearly empty.", "Change the battery soon."),
    "may-stay-on": (
        "A heater may stay on: its plug has no timer, and cannot be told OFF.",
        "Go and look. If it is on, use the heater's own switch, then pull the plug. Then see why the broker is away.",
    ),
    "broker-away": (
        "The broker is away: nothing is heard, and no plug on it can be told anything.",
        "See that the broker and its machine run, and the network between. Plugs with a timer switch themselves off, "
        "and rooms stay unheated until it is back.",
    ),
    "client-id-taken": (
        "Another program uses this house's connections to the broker.",
        "See whether a second thermostatd runs with this house file, here or on another machine, and end it. This one "
        "waits some minutes before it connects again; each change from one to the other switches the heaters off.",
    ),
    "link-breaks": (
        "The connection to the broker breaks again and again.",
        "First see whether a second thermostatd runs with this house file, here or on another machine: two that use "
        "the same connections end each other's. Else look at the network, and at the broker's log. Heaters stay off "
        "for some minutes after each series of breaks.",
    ),
    "house-file": (
        "The house file has a fault, and is not in force.",
        "Run `thermostatd check` on it and mend the line that it names. The house goes on with the last good file.",
    ),
    "left-waiting": (
        "A heater that waited for a look is no longer in the house file.",
        "If it is there under another name, with another plug, look at it before it heats: what it waited for did not "
        "follow. If it is gone, leave it unplugged. Then say that you have looked.",
    ),
    "check-failed": (
        "One of the program's own checks failed.",
        "The heater stays off. Please report it with the log of this moment.",
    ),
}


def sentence(code: str, **numbers: float | str) -> Said:
    """The sentence of a code. KeyError for a code that is not listed, or a number that it lacks."""
    return said(SENTENCES[code], **numbers)


def reason(code: str, **numbers: float | str) -> Reason:
    """A Reason of the closed list."""
    return Reason(code, sentence(code, **numbers), numbers)
