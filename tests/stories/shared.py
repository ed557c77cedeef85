"""A house of several rooms on one breaker, for stories of sharing. Invented."""

from __future__ import annotations

from collections.abc import Mapping

from tests.stories.teller import Plant, Story

SHOWN = 'plug = { kind = "simulated" }'
METERED = 'plug = { kind = "mqtt", tell = "{room}/set", draws = { topic = "{room}" }, timer = { payload = "1 {seconds}" } }'
BLIND = 'plug = { kind = "mqtt", tell = "{room}/set", timer = { payload = "1 {seconds}" } }'
ROOM = """
[[room]]
name = "{room}"
sensor = {{ topic = "{room}/air" }}
usual = [{{ days = "daily", at = "00:00", celsius = 20 }}]
{keys}
[[room.heater]]
name = "oil"
watts = {watts}
circuit = "north"
may_run = ["awake", "asleep", "away"]
{heater}
{plug}
"""


def breaker_house(rooms: Mapping[str, dict], *, amps: float = 10.0, house: str = "", more: str = "") -> str:
    """TOML of rooms on the circuit "north", 230 V; each room may give `watts`, `plug`, `heater` and `keys`."""
    text = f'[house]\nname = "Quay House"\ntimezone = "UTC"\n{house}\n[[circuit]]\nname = "north"\nbreaker_amps = {amps}\n'
    for room, words in rooms.items():
        given = {"watts": 900, "plug": SHOWN, "heater": "", "keys": ""} | words
        given["plug"] = given["plug"].replace("{room}", room)
        text += ROOM.format(room=room, **given)
    return text + more


def plants(story: Story, **celsius: float) -> Story:
    """Give each named room a first-order body of air that its heater warms."""
    for room, start in celsius.items():
        story.air[room] = Plant(celsius=start, key=f"{room}/oil")
    return story
