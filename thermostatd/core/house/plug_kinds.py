"""Plugs that are reached otherwise than by plain MQTT topics: over HTTP, by a program, by the Homie convention, or by
an adapter that someone else wrote.

Rules: a plug that is no client of the broker leaves no last will there: only its own timer ends its heat when
the machine dies.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from thermostatd.core.house.base import Table
from thermostatd.core.house.plug_base import PlugBase
from thermostatd.core.house.units import Pointer, Positive, Seconds, spelled, text_schema

_URL = r"^https?://[^\s/]\S*$"
_ID = r"^[a-z0-9-]{1,100}$"
_PATH = r"^[a-z0-9-]{1,100}/[a-z0-9-]{1,100}$"
_WORD = r"^[A-Za-z0-9][A-Za-z0-9._-]{0,59}$"
Url = Annotated[
    str,
    AfterValidator(spelled(_URL, 1000, "is no web address: begin it with http:// or https://")),
    text_schema(_URL, 1000),
]
HomieId = Annotated[
    str,
    AfterValidator(spelled(_ID, 100, "is no id of the convention: small letters, digits and - only")),
    text_schema(_ID, 100),
]
HomiePath = Annotated[
    str,
    AfterValidator(spelled(_PATH, 201, 'is no property: write its node and its id, such as "relay/on"')),
    text_schema(_PATH, 201),
]
Word = Annotated[
    str,
    AfterValidator(spelled(_WORD, 60, "is no adapter's name: write the name its package gives")),
    text_schema(_WORD, 60),
]
Words = Annotated[tuple[Annotated[str, Field(max_length=1000)], ...], Field(min_length=1, max_length=40)]


class Part(Table):
    """One value in an answer."""

    pointer: Pointer = ""
    """JSON Pointer to the value; empty: the whole answer is the value."""
    scale: Positive = 1.0
    """A number is multiplied by this."""


class ContactPart(Table):
    """Where an answer tells the contact's state, and the words for it."""

    pointer: Pointer = ""
    """JSON Pointer to the value; empty: the whole answer is the value."""
    on: str = Field(default="true", min_length=1, max_length=200)
    """What it says when on."""
    off: str = Field(default="false", min_length=1, max_length=200)
    """What it says when off."""

    @model_validator(mode="after")
    def _different(self) -> ContactPart:
        if self.on == self.off:
            raise ValueError("has one word for on and off: write the two different ones")
        return self


class Call(Table):
    """One HTTP request. In a timer `{seconds}` stands for the whole seconds."""

    url: Url
    """Its address, on the home network."""
    method: Literal["GET", "POST", "PUT", "PATCH"] = "POST"
    """Its method."""
    body: str = Field(default="", max_length=4000)
    """What it sends."""
    content_type: str = Field(default="application/json", max_length=100)
    """What kind of text that is."""


class AskedPlug(PlugBase):
    """A plug that has to be asked for its state."""

    shows: ContactPart | None = None
    """Where its answer tells the contact's state."""
    draws: Part | None = None
    """Where its answer tells the power it carries, W."""
    volts: Part | None = None
    """Where its answer tells the mains voltage, V."""
    warm: Part | None = None
    """Where its answer tells the plug's own temperature, °C."""
    every: Seconds = 30.0
    """How often it is asked."""
    timeout: Seconds = 5.0
    """How long it may take to answer."""


class HttpPlug(AskedPlug):
    """A plug that takes HTTP requests."""

    kind: Literal["http"] = "http"
    """How the plug is reached."""
    on: Call
    """The request for ON."""
    off: Call
    """The request for OFF."""
    timer: Call | None = None
    """The request for ON that ends by itself after `{seconds}`."""
    state: Call | None = None
    """The request for its state."""

    @model_validator(mode="after")
    def _timed(self) -> HttpPlug:
        if self.timer is not None and "{seconds}" not in self.timer.url + self.timer.body:
            raise ValueError("has a timer that does not say how long: put {seconds} in its url or body")
        return self

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        return self.timer is not None


class ProgramPlug(AskedPlug):
    """A plug that a program of the owner's switches: a list of words, never given to a shell."""

    kind: Literal["program"] = "program"
    """How the plug is reached."""
    on: Words
    """The program and its words for ON, such as ["/usr/local/bin/relay", "3", "on"]."""
    off: Words
    """The same for OFF."""
    timer: Words | None = None
    """The same for ON that ends by itself after `{seconds}`, even if this machine dies."""
    state: Words | None = None
    """The same to print its state."""

    @model_validator(mode="after")
    def _timed(self) -> ProgramPlug:
        if not all(
            words is None or words[0].startswith("/") for words in (self.on, self.off, self.timer, self.state)
        ):
            raise ValueError(
                'names a program without its place: write it from the root, such as "/usr/local/bin/relay"'
            )
        if self.timer is not None and not any("{seconds}" in word for word in self.timer):
            raise ValueError("has a timer that does not say how long: put {seconds} in one of its words")
        return self

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        return self.timer is not None


class HomiePlug(PlugBase):
    """A plug that introduces itself by the open Homie convention."""

    kind: Literal["homie"] = "homie"
    """How the plug is reached."""
    device: HomieId
    """The device's id."""
    switch: HomiePath
    """Its settable boolean, as node/property."""
    power: HomiePath | None = None
    """The property that tells the power it carries."""
    power_scale: Positive = 1.0
    """That is multiplied by this: 1000 for kW."""
    volts: HomiePath | None = None
    """The property that tells the mains voltage, V."""
    warm: HomiePath | None = None
    """The property that tells the plug's own temperature, °C."""
    timer: HomiePath | None = None
    """The settable whole number that, told before an ON, ends it after so many seconds."""
    root: HomieId | None = None
    """The root device's id, if the device is a child."""
    domain: HomieId = "homie"
    """The first part of its topics."""
    version: Literal[4, 5] = 5
    """The convention's version."""

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        return self.timer is not None

    @property
    def on_broker(self) -> bool:
        """Whether it is told by way of the broker, where its OFF stands as a last will."""
        return True

    @property
    def tells_power(self) -> bool:
        """Whether it tells the power it carries."""
        return self.power is not None

    def topic(self, path: str, device: str | None = None) -> str:
        """The topic of one of its properties, or of `$state`."""
        version = "5/" if self.version == 5 else ""
        return f"{self.domain}/{version}{device or self.device}/{path}"


class AddedPlug(PlugBase):
    """A plug whose adapter another package brings (entry-point group `thermostatd.plugs`)."""

    kind: Literal["added"] = "added"
    """How the plug is reached."""
    adapter: Word
    """The adapter's name, as its package gives it."""
    settings: dict[str, str | int | float | bool] = Field(default={}, max_length=60)
    """What that adapter needs; its own package says what."""
    has_timer: bool = False
    """Whether the adapter makes the plug end each ON by itself."""
    every: Seconds = 30.0
    """How often it is asked."""

    @property
    def switches_itself_off(self) -> bool:
        """Whether an ON ends by itself in the plug."""
        return self.has_timer
