"""The tables that hold for the whole house: `[house]`, `[broker]`, `[pages]`, circuits, tariff, notices."""

from __future__ import annotations

from datetime import time
from typing import Annotated, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, Field

from thermostatd.core.house.base import Table
from thermostatd.core.house.sensors import ForecastSource, Sensor
from thermostatd.core.house.units import (
    EVERY_DAY,
    ClockTime,
    Name,
    RoomCelsius,
    Seconds,
    Weekdays,
    YearDay,
    spelled,
    text_schema,
)


def _known_zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as fault:
        raise ValueError('is no known time zone: write one such as "Europe/Oslo" or "UTC"') from fault
    return name


_LISTEN = r"^(\[[0-9a-fA-F:]+\]|[^:\s\[\]]+):[0-9]{1,5}$"
_WEB = r"^https?://[^\s/]\S*$"
_LISTEN_FAULT = 'is no address with a port: write both, such as "127.0.0.1:8420" or "0.0.0.0:8420"'


def _known_port(address: str) -> str:
    if not 1 <= int(address.rpartition(":")[2]) <= 65535:
        raise ValueError("has a port that does not exist: write one from 1 to 65535")
    return address


Address = Annotated[
    str,
    AfterValidator(spelled(_LISTEN, 260, _LISTEN_FAULT)),
    AfterValidator(_known_port),
    text_schema(_LISTEN, 260),
]
WebAddress = Annotated[
    str,
    AfterValidator(spelled(_WEB, 2000, "is no web address: begin it with http:// or https://")),
    text_schema(_WEB, 2000),
]


class Asleep(Table):
    """The hours in which the house sleeps. They may pass midnight."""

    begins: ClockTime = Field(alias="from")
    """Time of day at which they begin."""
    ends: ClockTime = Field(alias="to")
    """Time of day at which they end."""


class Season(Table):
    """The days of the year on which the usual week heats. They may pass New Year."""

    begins: YearDay = Field(alias="from")
    """First day, "MM-DD"."""
    ends: YearDay = Field(alias="to")
    """Last day, "MM-DD"."""


class HouseTable(Table):
    """`[house]`."""

    name: str = Field(default="House", min_length=1, max_length=60)
    """The house's name, as people see it."""
    timezone: Annotated[str, AfterValidator(_known_zone)] = "UTC"
    """Time zone that the usual week follows."""
    mains_volts: float = Field(default=230.0, ge=90, le=260, allow_inf_nan=False)
    """Nominal mains voltage, V."""
    mains_tolerance: float = Field(default=0.10, ge=0, le=0.2, allow_inf_nan=False)
    """How far the mains may stray, as a share of nominal (EN 50160: 0.10)."""
    outdoor: Sensor | None = None
    """What feels the air outside."""
    forecast: ForecastSource | None = None
    """Where the outdoor air of the coming hours is told, for predictive control."""
    frost_celsius: RoomCelsius = 7.0
    """What rooms are held at while everyone is out, °C, best effort."""
    asleep: Asleep | None = None
    """The hours in which the house sleeps."""
    tick: Seconds = 10.0
    """How often everything is decided anew."""
    season: Season | None = None
    """When the usual week heats (left out: all year)."""


class BrokerTls(Table):
    """TLS towards the broker; the certificate is always checked."""

    ca: str | None = None
    """File of the authority that signed the broker's certificate (left out: the system's)."""
    cert: str | None = None
    """File of the daemon's own certificate, where the broker asks for one."""
    key: str | None = None
    """File of that certificate's key."""


class Broker(Table):
    """`[broker]`."""

    host: str = Field(default="127.0.0.1", min_length=1)
    """The broker's address."""
    port: int = Field(default=1883, ge=1, le=65535)
    """Its TCP port."""
    user: str | None = None
    """The name the daemon gives to the broker."""
    password_file: str | None = None
    """File whose first line is the password; readable by the daemon alone."""
    tls: BrokerTls | None = None
    """TLS towards the broker (left out: plain)."""
    serve: bool = False
    """Run the embedded broker, on loopback only, for trying out."""
    asks: bool = False
    """Whether requests are taken from the broker."""


class PagesTls(Table):
    """The owner's certificate for the pages."""

    cert: str
    """File of the certificate."""
    key: str
    """File of its key."""


class Pages(Table):
    """`[pages]`."""

    listen: Address = "127.0.0.1:8420"
    """Address and port."""
    hosts: tuple[str, ...] = ()
    """Further names by which phones may call this machine."""
    open: bool = False
    """Anyone on the network may ask without joining; refused behind a proxy."""
    weeks: Literal["owner", "household"] = "owner"
    """Who may change the rooms' usual weeks on the page."""
    owner_passphrase_file: str | None = None
    """File whose first line is the owner's passphrase."""
    tls: PagesTls | None = None
    """The owner's certificate (left out: plain HTTP)."""


class Circuit(Table):
    """`[[circuit]]`: the sockets behind one breaker."""

    name: Name
    """The circuit's name; heaters refer to it."""
    breaker_amps: float = Field(gt=0, le=125, allow_inf_nan=False)
    """The breaker's rating, A."""
    continuous_share: float = Field(default=0.8, gt=0, le=1, allow_inf_nan=False)
    """Share of the breaker that long loads may use (NEC 210.20: 0.8)."""


class Price(Table):
    """A price that holds at some hours."""

    days: Weekdays = EVERY_DAY
    """Days of the week: "daily", "mon-fri", "sat,sun"."""
    begins: ClockTime = Field(alias="from")
    """Time of day at which they begin."""
    ends: ClockTime = Field(alias="to")
    """Time of day at which they end."""
    per_kwh: float = Field(ge=-10, le=100, allow_inf_nan=False)
    """The price of a kilowatt-hour then."""

    def holds(self, weekday: int, at: time) -> bool:
        """Whether it holds at a local time of a day of the week (0: Monday).

        Hours that pass midnight belong to the day on which they begin.
        """
        if self.begins < self.ends:
            return weekday in self.days and self.begins <= at < self.ends
        yesterday = (weekday - 1) % 7
        return (weekday in self.days and at >= self.begins) or (yesterday in self.days and at < self.ends)


class Tariff(Table):
    """`[tariff]`: what a kilowatt-hour costs, by time."""

    currency: str = Field(default="", max_length=8)
    """How prices are marked, such as "kr"."""
    per_kwh: float = Field(ge=-10, le=100, allow_inf_nan=False)
    """The price of a kilowatt-hour where no exception holds."""
    prices: tuple[Price, ...] = ()
    """Exceptions by time; the first that fits counts."""


class Notices(Table):
    """`[notices]`: where troubles are told besides the page and the broker."""

    webhook: WebAddress | None = None
    """Address that gets a JSON POST for each trouble and its end."""
    addresses_file: str | None = None
    """File of addresses for mail, chat and push, one a line, as the apprise library writes them; kept secret."""
    quiet: Asleep | None = None
    """Hours in which only loud troubles go to those addresses; the rest waits until they end."""
    remind_after: Seconds = 6 * 3600.0
    """A trouble that nobody has looked at is told once more after this."""
