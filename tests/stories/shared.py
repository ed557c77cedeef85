"""A house of several rooms on one breaker, for stories of sharing. Invented."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.stories.teller import Plant, Story

SHOWN = 'plug = { kind = "simulated" }'
BLIND = 'plug = { kind = "mqtt", tell = "{room}/set", timer = { payload = "1 {seconds}" } }'
METERED = BLIND.replace("timer", 'draws = { topic = "{room}" }, timer')
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
    text = f'[house]\nname = "Quay House"\ntimezone = "UTC"\n{house}\n'
    text += f'[[circuit]]\nname = "north"\nbreaker_amps = {amps}\n'
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


@dataclass
class Watch:
    """What a story of sharing is judged by: each heater's waits, s, and air under target, K, while it runs on."""

    waits: dict[str, list[float]] = field(default_factory=dict)
    below: dict[str, list[float]] = field(default_factory=dict)
    most_amps: float = 0.0

    def over(self, story: Story, hours: float) -> Watch:
        """Run a story, and look at every tick. Amperes are those truly drawn, at high mains."""
        waiting: dict[str, float] = {}
        end = story.steady + 3600.0 * hours
        while story.steady < end:
            result = story.step()
            self.most_amps = max(self.most_amps, sum(plug.draws() for plug in story.plugs.values()) / 230 * 1.1)
            for name, room in result.rooms.items():
                self.below.setdefault(name, []).append(room.target.celsius - story.air[name].celsius)
            for key in story.plugs:
                if story.tripped("circuit", key) and not story.result.orders[key].on:
                    waiting.setdefault(key, story.steady)
                elif key in waiting:
                    self.waits.setdefault(key, []).append(story.steady - waiting.pop(key))
        return self

    def table(self) -> str:
        """One line a room: how often and how long it waited, and how far under target it was."""
        lines = [f"most drawn at once, at high mains: {self.most_amps:.1f} A"]
        for name, below in self.below.items():
            waits = [wait / 60 for wait in self.waits.get(f"{name}/oil", [0.0])]
            lines.append(
                f"{name}: {len(waits)} waits, mean {sum(waits) / len(waits):.1f} min, longest {max(waits):.1f} min; "
                f"under target {sum(below) / len(below):.2f} K in the mean, {max(below):.2f} K at most"
            )
        return "\n".join(lines)
