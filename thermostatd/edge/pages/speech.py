"""How the pages speak to one visitor: language, degrees, and how times and numbers are written there.

Rules: a visitor's own choice (a cookie) beats what the browser prefers; what the core said is said again from its
template and numbers, in the visitor's language and degrees; names of people, rooms and circuits are never translated.
"""

from __future__ import annotations

import gettext
import re
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Literal

from thermostatd.core.said import KELVINS, Said, When
from thermostatd.edge.pages.catalogues import ENGLISH, Catalogues
from thermostatd.edge.pages.recognised import Recognised

Unit = Literal["C", "F"]
MINUS = "\u2212"
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
LONG_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
OWN_NAMES = {"en": "English", "de": "Deutsch", "nb": "Norsk"}
# the decimal sign, and whether the day of the month is written with a point (CLDR 44; the tests hold it against babel)
DECIMALS = {"en": ".", "de": ","}
TWELVE_HOURS = frozenset({"us", "ca", "au", "nz", "in", "ph"})
NAMES = frozenset({"who", "name", "names", "circuit", "room", "heater", "told"})
# what stands for a name where nobody gave one
ANYBODY = frozenset({"Someone here", "someone", "from the broker"})
_FIELD = re.compile(r"\{(\w+)(?::([^}]*))?\}(\s?°C|°)?")


@dataclass(frozen=True)
class Speech:
    """One visitor's way of being spoken to."""

    language: str = ENGLISH
    unit: Unit = "C"
    twelve_hours: bool = False
    zone: tzinfo | None = None
    catalogue: gettext.NullTranslations = field(default_factory=gettext.NullTranslations, compare=False)
    recognised: Recognised = field(default_factory=lambda: Recognised(()), compare=False)

    def text(self, english: str, **numbers: object) -> str:
        """A text of the pages in this language."""
        told = self.catalogue.gettext(english) if english else ""
        return told.format(**numbers) if numbers else told

    def counted(self, one: str, many: str, count: int) -> str:
        """A text with a number in it."""
        return self.catalogue.ngettext(one, many, count).format(count=count)

    def say(self, sentence: str) -> str:
        """What the core said, in this visitor's language and degrees."""
        if isinstance(sentence, When):
            return self.moment(sentence.wall)
        if not isinstance(sentence, Said):
            told = self.text(sentence)
            known = self.recognised.find(sentence) if told == sentence else None
            if known is None:
                return told
            sentence = known
        told = self.text(sentence.template)
        return (
            _FIELD.sub(lambda found: self._number(sentence, found), told)
            .replace("{{", "{")
            .replace("}}", "}")
        )

    def _number(self, sentence: Said, found: re.Match[str]) -> str:
        name, form, degree = found[1], found[2] or "", found[3] or ""
        value = sentence.numbers[name]
        if isinstance(value, str):
            return self._words(name, value) + degree
        if not degree:
            return self.number_as(value, form)
        return self._degrees(value, form, name in KELVINS) + (
            degree if len(degree) < 2 else degree[:-1] + self.unit
        )

    def _words(self, name: str, value: str) -> str:
        if isinstance(value, Said | When):
            return self.say(value)
        if name in NAMES and value not in ANYBODY:
            return value
        told = self.say(value)
        if name == "why" and told == value and self.language != ENGLISH:
            return self.text("the sensor says something that cannot be used")
        return told

    def _degrees(self, value: float, form: str, difference: bool) -> str:
        if self.unit == "C":
            return self.number_as(value, form)
        sign = "+" if form.startswith("+") else ""
        return (
            self.number_as(value * 1.8, sign + ".1f")
            if difference
            else self.number_as(value * 1.8 + 32, ".0f")
        )

    def number_as(self, value: float, form: str) -> str:
        """A number in Python's format, with this language's decimal sign and a true minus."""
        told = format(value, form)
        if float(told) == 0:
            told = told.lstrip("-")
        return told.replace("-", MINUS).replace(".", self.decimal)

    @property
    def decimal(self) -> str:
        """This language's decimal sign."""
        return DECIMALS.get(self.language, ".")

    # times

    def hours(self, at: datetime) -> str:
        """ "16:12", or "4:12 pm"."""
        if not self.twelve_hours:
            return f"{at:%H:%M}"
        return f"{at.hour % 12 or 12}:{at.minute:02} {'am' if at.hour < 12 else 'pm'}"

    def day(self, at: datetime) -> str:
        """ "Mon"."""
        return self.text(DAYS[at.weekday()])

    def date(self, at: datetime) -> str:
        """ "3 Feb"."""
        return self.text("{day} {month}", day=at.day, month=self.text(MONTHS[at.month - 1]))

    def moment(self, wall: float) -> str:
        """A Unix second as this house's clocks show it; its day where it is not today's."""
        at, now = datetime.fromtimestamp(wall, self.zone), now_of.get()
        return self.near(at, now) if now is not None else f"{self.day(at)} {self.hours(at)}"

    def near(self, at: datetime, now: datetime) -> str:
        """ "18:00" today, "Thu 07:30" within six days either way, else "3 Feb 07:30"."""
        days = abs((at.date() - now.date()).days)
        if days == 0:
            return self.hours(at)
        return f"{self.day(at)} {self.hours(at)}" if days < 7 else f"{self.date(at)} {self.hours(at)}"

    def span(self, seconds: float) -> str:
        """ "40 min", "1 h", "2 h 30 min", "3 days"."""
        minutes = round(seconds / 60)
        hours, rest = divmod(minutes, 60)
        if hours >= 48:
            return self.counted("{count} day", "{count} days", round(hours / 24))
        if not hours:
            return self.text("{minutes} min", minutes=minutes)
        if not rest:
            return self.text("{hours} h", hours=hours)
        return self.text("{hours} h {minutes} min", hours=hours, minutes=rest)


_ENGLISH = Speech()
_speech: ContextVar[Speech] = ContextVar("speech", default=_ENGLISH)
now_of: ContextVar[datetime | None] = ContextVar("now", default=None)
"""The house's present wall time, by which times are told as near or far."""


def speech() -> Speech:
    """How to speak to the visitor of the request at hand."""
    return _speech.get()


def speak(chosen: Speech) -> None:
    """From here on this request is answered so."""
    _speech.set(chosen)


def t(english: str, **numbers: object) -> str:
    """A text of the pages, in the visitor's language."""
    return _speech.get().text(english, **numbers)


def counted(one: str, many: str, count: int) -> str:
    """A text with a count in it."""
    return _speech.get().counted(one, many, count)


def say(sentence: str) -> str:
    """A sentence of the core, in the visitor's language and degrees."""
    return _speech.get().say(sentence)


def chosen_language(cookie: str | None, accept: str, catalogues: Catalogues) -> str:
    """The visitor's own choice, else the first of the browser's that the pages speak, else English."""
    if cookie in catalogues.languages:
        return str(cookie)
    for wanted, _ in preferences(accept):
        base = wanted.partition("-")[0]
        if base in catalogues.languages:
            return base
    return ENGLISH


def region_of(accept: str) -> str:
    """The region of the browser's first language, lower case; empty where it names none."""
    found = preferences(accept)
    return found[0][0].partition("-")[2].rpartition("-")[2] if found else ""


def preferences(accept: str) -> list[tuple[str, float]]:
    """Accept-Language, best first (RFC 9110, 12.5.4): language tags in lower case with their weights over 0."""
    found = []
    for part in accept[:400].split(","):
        tag, _, weight = part.strip().partition(";")
        try:
            quality = float(weight.strip().removeprefix("q=")) if weight else 1.0
        except ValueError:
            quality = 0.0
        if quality > 0 and re.fullmatch(r"[A-Za-z0-9*-]{1,35}", tag.strip()):
            found.append((tag.strip().lower(), quality))
    return sorted(found, key=lambda one: -one[1])
