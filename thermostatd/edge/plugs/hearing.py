"""What an MQTT plug says of itself, gathered into one report.

Rules: a retained contact state or meter value is no answer and is left out; presence is retained by its
nature and counts; a broken value is logged once and never becomes a number.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import replace

from thermostatd.core.house import MqttPlug as Description
from thermostatd.core.values import Missing, PlugReport
from thermostatd.edge.broker import Heard
from thermostatd.edge.broker_payload import number_from, shown, word_from

log = logging.getLogger(__name__)
WATTS = (-50.0, 50_000.0)  # a meter's zero may stray a little below
VOLTS = (0.0, 500.0)
WARM_CELSIUS = (-40.0, 200.0)
Reader = Callable[[Heard], None]


class Hearing:
    """The report of one plug, filled by the network's thread and read by the daemon's."""

    def __init__(self, key: str, plug: Description) -> None:
        self._key, self._plug = key, plug
        self._lock = threading.Lock()
        self._report = PlugReport()
        self._news = self._lost = False
        self._broken: dict[str, str] = {}
        self.contact_heard_at: float | None = None
        """Steady second of the last live contact state."""
        self._readers: dict[str, list[Reader]] = {}
        for source, reader in (
            (plug.shows, self._read_contact),
            (plug.draws, self._read_watts),
            (plug.volts, self._read_volts),
            (plug.warm, self._read_warm),
            (plug.present, self._read_presence),
        ):
            if source is not None:
                self._readers.setdefault(source.topic, []).append(reader)

    def topics(self) -> tuple[str, ...]:
        """Every topic the plug speaks on."""
        return tuple(self._readers)

    def take(self, heard: Heard) -> None:
        """One message. Several values may come on one topic; each is read."""
        for reader in self._readers.get(heard.topic, ()):
            if heard.refused is not None:
                self._name_once(heard.topic, heard.refused)
            elif not heard.retained or reader == self._read_presence:
                reader(heard)

    def news(self) -> PlugReport | None:
        """All that is known, if something was heard since the last call."""
        with self._lock:
            report, news = self._report, self._news
            self._news = False
            if self._lost:
                report = replace(report, reachable=False)
        return report if news else None

    @property
    def showed_on(self) -> bool:
        """Whether its contact last showed ON."""
        return self._report.on is True

    def lost_the_way(self) -> None:
        """The broker has been away for so long that the plug is, too, whatever it said of itself."""
        with self._lock:
            self._news = self._news or not self._lost
            self._lost = True

    def came_back(self, at: float, *, opened: bool = False, first: bool = False) -> None:
        """The way to the plug is open again; news only where it was told OFF though an ON held, or counted as away:
        the life before may have left it so, which makes the first connection news."""
        with self._lock:
            self._report = replace(self._report, back_at=at, opened_at=at if opened else self._report.opened_at)
            self._news = self._news or opened or first or self._lost
            self._lost = False

    def _read_contact(self, heard: Heard) -> None:
        assert self._plug.shows is not None
        word = word_from(heard.payload, self._plug.shows.pointer)
        on, off = self._plug.shows.on or self._plug.on, self._plug.shows.off or self._plug.off
        if word in (on, off):
            self.contact_heard_at = heard.at
            self._put("shows", on=word == on, on_at=heard.at)
        else:
            odd = (
                word.why
                if isinstance(word, Missing)
                else f"{shown(word)} is neither of its words for on and off"
            )
            self._name_once("shows", odd)

    def _read_watts(self, heard: Heard) -> None:
        assert self._plug.draws is not None
        watts = number_from(
            heard.payload,
            self._plug.draws.pointer,
            lowest=WATTS[0],
            highest=WATTS[1],
            scale=self._plug.draws.scale,
        )
        if isinstance(watts, Missing):
            self._name_once("draws", watts.why)
        else:
            self._put("draws", watts=watts, watts_at=heard.at)

    def _read_volts(self, heard: Heard) -> None:
        assert self._plug.volts is not None
        volts = number_from(
            heard.payload,
            self._plug.volts.pointer,
            lowest=VOLTS[0],
            highest=VOLTS[1],
            scale=self._plug.volts.scale,
        )
        if isinstance(volts, Missing):
            self._name_once("volts", volts.why)
        else:
            self._put("volts", volts=volts)

    def _read_warm(self, heard: Heard) -> None:
        assert self._plug.warm is not None
        warm = number_from(
            heard.payload, self._plug.warm.pointer, lowest=WARM_CELSIUS[0], highest=WARM_CELSIUS[1]
        )
        if isinstance(warm, Missing):
            self._name_once("warm", warm.why)
        else:
            self._put("warm", warm_celsius=warm, warm_at=heard.at)

    def _read_presence(self, heard: Heard) -> None:
        presence = self._plug.present
        assert presence is not None
        word = word_from(heard.payload, presence.pointer)
        if word == presence.yes or word == presence.no:
            if word == presence.no:
                self._put("present", reachable=False)
            else:
                back = {} if self._report.reachable else {"back_at": heard.at}
                self._put("present", reachable=True, **back)
        else:
            odd = word.why if isinstance(word, Missing) else f"{shown(word)} is neither there nor away"
            self._name_once("present", odd)

    def _put(self, what: str, **changes: float | bool | None) -> None:
        self._broken.pop(what, None)
        with self._lock:
            self._report = replace(self._report, **changes)  # type: ignore[arg-type]
            self._news = True

    def _name_once(self, what: str, why: str) -> None:
        if what not in self._broken:
            log.warning("The plug of %s: `%s` cannot be read: %s", self._key, what, why)
        self._broken[what] = why
