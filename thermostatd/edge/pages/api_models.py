"""The JSON API's models: what goes in (unknown fields are refused) and what comes out. °C, ISO 8601."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, JsonValue

_ASK: dict[str, JsonValue] = {"room": "study", "celsius": 21.0, "until": "next-step"}


class Body(BaseModel):
    """A request's body."""

    model_config = ConfigDict(extra="forbid", strict=True, use_attribute_docstrings=True)


Degrees = Annotated[float, Field(allow_inf_nan=False, ge=-60, le=120)]
Text = Annotated[str, Field(min_length=1, max_length=80)]


class AskBody(Body):
    """Another target for a room."""

    model_config = ConfigDict(json_schema_extra={"examples": [_ASK]})
    room: Text
    celsius: Degrees
    """°C, within the owner's limits."""
    until: Text = "next-step"
    """"next-step", "no-end", or an ISO 8601 time with its offset."""
    begins: Text | None = None
    """An ISO 8601 time within a week, where it is to begin later; null: now."""


class RoomOffBody(Body):
    """One room off alone: it is heated against frost only."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"room": "study", "until": "no-end"}]})
    room: Text
    until: Text = "no-end"
    """"no-end" (somebody turns it on again), "next-step", or an ISO 8601 time with its offset."""


class WarmMeBody(Body):
    """Warmth on a spot."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"spot": "sewing table", "minutes": 20}]})
    spot: Text
    minutes: Annotated[float, Field(allow_inf_nan=False, gt=0, le=1440)]


class OutBody(Body):
    """Everyone is out."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"until": "2026-01-12T18:00:00+01:00"}]})
    until: Text = "no-end"
    """"no-end", "next-step", or an ISO 8601 time with its offset."""


class AllOffBody(Body):
    """Everything off: an empty object."""


class CancelBody(Body):
    """Taking back what was asked."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"what": "study"}, {"what": "all-off"}]})
    what: Text
    """A room or spot by name, "out" or "all-off"."""
    begins: Text | None = None
    """Of a room: when that begins which is to be taken back, where it waits yet."""


class UndoBody(Body):
    """Taking back this device's own last change, within its minute."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"change": 12}]})
    change: Annotated[int, Field(ge=1)]
    """The number that the answer to the change gave."""


class StepBody(Body):
    """One step of a usual week."""

    days: Text
    """Such as "daily", "mon-fri", "sat,sun"."""
    at: Annotated[str, Field(pattern=r"^[0-2][0-9]:[0-5][0-9]$")]
    celsius: Degrees


class WeekBody(Body):
    """A room's usual week over the house file's; null puts the file's back."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [{"room": "study", "steps": [{"days": "mon-fri", "at": "07:30", "celsius": 20}]}]
        }
    )
    room: Text
    steps: Annotated[list[StepBody], Field(max_length=56)] | None


class SeenBody(Body):
    """The owner has looked at a trouble."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"trouble": "silent-plug study/column"}]})
    trouble: Annotated[str, Field(min_length=1, max_length=200)]


class StandsBody(Body):
    """A heater was carried and now stands in that room."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"heater": "study/column", "room": "bedroom"}]})
    heater: Annotated[str, Field(min_length=1, max_length=90)]
    """The heater's key."""
    room: Text


class SetToBody(Body):
    """A heater's selector is now on that setting."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"heater": "study/column", "watts": 600}]})
    heater: Annotated[str, Field(min_length=1, max_length=90)]
    """The heater's key."""
    watts: Annotated[float, Field(ge=1, le=4000, allow_inf_nan=False)]
    """W at nominal volts; one of the heater's settings, where the house file lists them."""


class AcceptedOut(BaseModel):
    """What now holds."""

    sentence: str
    celsius: float | None = None
    until: str | None = None
    replaced: str | None = None
    change: int | None = None
    """Its number, for taking it back within a minute."""


class ErrorOut(BaseModel):
    """Why not. `limit` is the limit that was met, where there is one."""

    code: str
    sentence: str
    limit: float | str | None = None


class TargetOut(BaseModel):
    """What is wanted."""

    celsius: float
    whose: str
    code: str
    until: str | None


class LaterOut(BaseModel):
    """What was asked of a room for later."""

    celsius: float
    begins: str
    until: str
    who: str


class HeaterOut(BaseModel):
    """One heater: what it is told and why, what it shows and draws."""

    key: str
    on: bool
    code: str
    why: str
    shown_on: bool | None
    watts: float | None


class ForecastOut(BaseModel):
    """Where a room's air is heading: °C, and the span it most likely lies in (80 %), where a model foretells it."""

    at: str
    celsius: float
    low: float | None
    high: float | None


class RoomOut(BaseModel):
    """One room. `air` is null where there is no good reading, and `missing` says why.

    `knows` says what was learned of the room, null before; the watts and hours in it are given as numbers too.
    """

    room: str
    air: float | None
    missing: str | None
    target: TargetOut
    code: str
    why: str
    lowest: float
    highest: float
    heaters: list[HeaterOut]
    forecast: list[ForecastOut] = []
    knows: str | None = None
    loss_watts_per_kelvin: float | None = None
    settling_hours: float | None = None
    later: list[LaterOut] = []


class SpotOut(BaseModel):
    """One spot."""

    spot: str
    on: bool
    remaining_seconds: float
    until: str | None
    who: str | None
    why: str
    longest_minutes: float


class TroubleOut(BaseModel):
    """Something a person should know."""

    id: str
    code: str
    what: str
    evidence: str
    what_to_do: str
    since: str
    loud: bool
    latched: bool
    seen: bool


class HouseOut(BaseModel):
    """Everything, at one moment. `decided` is false before the first tick; then the lists are empty."""

    house: str
    at: str
    decided: bool
    age_seconds: float | None
    broker_up: bool
    warnings: list[str]
    outdoor: float | None
    awake: bool | None
    out: bool
    out_until: str | None
    all_off: bool
    all_off_who: str | None
    rooms: list[RoomOut]
    spots: list[SpotOut]
    troubles: list[TroubleOut]
