"""Smart plugs, as the owner describes them, and the heaters behind them."""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, PrivateAttr

from thermostatd.core.house.base import Table
from thermostatd.core.house.plug_base import AskState, PlugBase, Shown, Timer
from thermostatd.core.house.plug_kinds import AddedPlug, HomiePlug, HttpPlug, ProgramPlug
from thermostatd.core.house.sensors import Meter, Presence, Source
from thermostatd.core.house.units import Name, Positive, Seconds, Topic, spelled, text_schema

_BY_HAND = r"^(off|allow for [0-9]{1,6}(\.[0-9]{1,6})? (min|h))$"
_BY_HAND_FAULT = 'is no rule for the plug\'s button: write "off", or "allow for 2 h" with your own time'
ByHand = Annotated[str, AfterValidator(spelled(_BY_HAND, 40, _BY_HAND_FAULT)), text_schema(_BY_HAND, 40)]


class MqttPlug(PlugBase):
    """A plug on the broker."""

    kind: Literal["mqtt"] = "mqtt"
    """How the plug is reached."""
    tell: Topic
    """Topic that orders are published to."""
    on: str = Field(default="true", min_length=1, max_length=200)
    """Payload for ON, and what `shows` says when on."""
    off: str = Field(default="false", min_length=1, max_length=200)
    """Payload for OFF, and what `shows` says when off."""
    timer: Timer | None = None
    """How the plug is told to switch itself off."""
    shows: Shown | None = None
    """Where the plug tells its contact's state."""
    draws: Meter | None = None
    """Where the plug tells the power it carries, W."""
    volts: Meter | None = None
    """Where the plug tells the mains voltage, V."""
    warm: Source | None = None
    """Where the plug tells its own temperature, °C."""
    present: Presence | None = None
    """Where the plug tells that it is there."""
    ask_state: AskState | None = None
    """What makes the plug tell its present state."""

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        return self.timer is not None

    @property
    def on_broker(self) -> bool:
        """Whether it is told by way of the broker, where its OFF stands as a last will."""
        return True


class SimulatedPlug(PlugBase):
    """A plug of the rehearsal, inside the process. It has a timer, a contact state and a meter."""

    kind: Literal["simulated"] = "simulated"
    """How the plug is reached."""

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        return True


Plug = Annotated[
    MqttPlug | HttpPlug | ProgramPlug | HomiePlug | AddedPlug | SimulatedPlug, Field(discriminator="kind")
]
Circumstance = Literal["awake", "asleep", "away"]


class Heater(Table):
    """One portable heater on one plug."""

    name: Name
    """The heater's name, as people see it."""
    kind: Literal["oil-filled", "panel", "convector", "infrared"] = "oil-filled"
    """How it gives its heat."""
    watts: float = Field(ge=20, le=4000, allow_inf_nan=False)
    """What the selector is set to, W (not kW) at the house's nominal voltage."""
    settings_watts: tuple[Positive, ...] = ()
    """The selector's choices, W."""
    sustained_watts: Positive | None = None
    """What it can shed for hours, W (left out: learned)."""
    circuit: str | None = None
    """Name of the circuit its socket is on."""
    min_on: Seconds = 300.0
    """Shortest run."""
    min_off: Seconds = 300.0
    """Shortest rest."""
    longest_run: Seconds = 12 * 3600.0
    """Longest run without a break; a break of ten minutes follows."""
    may_run: tuple[Circumstance, ...] = ("awake",)
    """When it may run unattended; "asleep" and "away" are the owner's explicit word."""
    by_hand: ByHand = "off"
    """What a press on the plug's own button means: "off", or "allow for 2 h"."""
    plug: Plug
    """The smart plug it hangs on."""
    _key: str | None = PrivateAttr(default=None)

    def keeping_key(self, key: str) -> Heater:
        """This heater, known by that key wherever it stands."""
        self._key = key
        self.__dict__.pop("kept_key", None)  # of the heater that this one was copied from
        return self

    @cached_property  # asked for many times a step, and a private attribute is slow to read
    def kept_key(self) -> str | None:
        """The key that it keeps although it was moved by hand."""
        return self._key
