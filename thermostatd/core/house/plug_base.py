"""What holds for a plug of any kind, as the owner describes it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from thermostatd.core.house.base import Table
from thermostatd.core.house.sensors import Source
from thermostatd.core.house.units import Positive, Topic, spelled, text_schema

_TIMED = r"^[\s\S]*\{seconds\}[\s\S]*$"
_TIMED_FAULT = 'does not say how long: put {seconds} where its seconds belong, such as "true {seconds}"'


class Timer(Table):
    """How the plug is told to switch itself off: `{seconds}` stands for the whole seconds."""

    payload: Annotated[str, AfterValidator(spelled(_TIMED, 200, _TIMED_FAULT)), text_schema(_TIMED, 200)]
    """The payload that switches ON for a time, with `{seconds}` in it."""
    topic: Topic | None = None
    """Its topic, if it is not `tell`."""
    then_on: bool = False
    """Whether `on` has to be told at `tell` after it: a plug that takes the seconds alone for no order to switch on."""


class AskState(Table):
    """What to publish so that the plug tells its present state."""

    topic: Topic
    """Topic of the question."""
    payload: str = ""
    """Payload of the question."""


class Shown(Source):
    """Where the plug tells its contact's state, and its words for it where they differ from the orders'."""

    on: str | None = Field(default=None, min_length=1, max_length=200)
    """What it says when on (left out: the same as the order)."""
    off: str | None = Field(default=None, min_length=1, max_length=200)
    """What it says when off (left out: the same as the order)."""


class PlugBase(Table):
    """What holds for any plug."""

    rated_amps: Positive | None = None
    """Continuous resistive rating printed on the plug, A."""
    rated_operations: int = Field(default=100_000, gt=0)
    """Cycles, each an ON and an OFF, that the relay is made for."""
    no_self_off: Literal["accepted"] | None = None
    """The owner's word that a plug without a timer is accepted: it then runs only while people are awake."""
    power_on: Literal["off"] | None = None
    """The owner's word that the plug's own settings keep it OFF after a power cut."""

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        raise NotImplementedError

    @property
    def on_broker(self) -> bool:
        """Whether it is told by way of the broker, where its OFF stands as a last will."""
        return False

    @property
    def tells_contact(self) -> bool:
        """Whether it tells its contact's state: where a kind has the key `shows`, that says it."""
        return getattr(self, "shows", True) is not None

    @property
    def tells_power(self) -> bool:
        """Whether it tells the power it carries: where a kind has the key `draws`, that says it."""
        return getattr(self, "draws", True) is not None
