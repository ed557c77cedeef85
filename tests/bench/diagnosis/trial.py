"""Orders one fault after another at each heater, and notes what the Regulator calls it.

Rules: a fault begins at a random moment of a day, between two ticks as likely as not, an element's while it carries
current (that is when they burn); it is mended two hours after it was named, or at the end of its window, and the
owner says that they have looked; a name that leaves two causes open (`opens-early`) does not end it: nobody looks
until it is settled or the window ends. The window begins when the fault first acts: a relay closed on it, a body
opened its switch under a cover or at its dial, a welded contact was told to open, a report of the meter came while a
cut-out was open. One that has not acted in two days is mended and listed as unshown, since nothing that a meter or a
thermometer could read was different. The answer is what was told in that time or stands at its end and did not
before; what was told first and withdrawn is counted apart. No fault begins while an earlier one's name stands, for a
day at most.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from random import Random

from tests.bench.diagnosis.house import QUICK, Home, Meter
from thermostatd import Seen
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.facts import HeaterFacts

WINDOWS_HOURS = {
    "covered": 16, "cut-out": 12, "nothing": 16, "dial": 16, "element": 30, "selector": 30, "welded": 26,
    "bad socket": 26, "carried": 30,
}  # fmt: skip
QUICK_FAULTS = ("covered", "nothing", "dial", "welded", "bad socket", "carried")
KINDS = {
    "tall": (
        "covered",
        "cut-out",
        "nothing",
        "dial",
        "element",
        "selector",
        "welded",
        "bad socket",
        "carried",
    ),
    "low": ("nothing", "dial", "selector", "welded", "bad socket", "carried"),
    "mid": ("covered", "nothing", "dial", "selector", "welded", "bad socket", "carried"),
    **dict.fromkeys(QUICK, QUICK_FAULTS),
    "convector": (*QUICK_FAULTS, "element", "selector"),
}
NAMES = {
    "covered": "covered", "opens-early": "early", "cut-out": "cut-out", "drawing-nothing": "nothing",
    "dial-down": "dial",
    "element-out": "element", "selector-moved": "selector", "less-power": "either", "drawing-while-off": "welded",
    "bad-socket": "bad socket", "no-answer": "carried",
}  # fmt: skip
RIGHT = {kind: {kind} for kind in WINDOWS_HOURS} | {
    "element": {"element", "either"}, "selector": {"selector", "either"},
}  # fmt: skip
QUICK_RIGHT = RIGHT | {"covered": {"covered", "early"}, "dial": {"dial", "early"}}
"""Of a body with a small store power comes back as soon from a cover as from its dial."""
LINGER_HOURS = 2.0
BETWEEN_HOURS = (4.0, 10.0)
UNSHOWN_HOURS = 48.0
STALE_HOURS = 24.0
WEIGHED_HOURS = 2.0
BURNS_WITHIN_SECONDS = 3600.0
LESS_SHARE = 0.85  # of a setting's watts; mains and meters do not take so much
NONE = "none"
OPEN = ("cut-out", "early")
"""What is no answer yet."""


@dataclass
class Tally:
    """Faults by (ordered, named), withdrawn first words, alarms without a fault; the largest memory, bytes a room."""

    named: Counter[tuple[str, str]] = field(default_factory=Counter)
    withdrawn: Counter[tuple[str, str]] = field(default_factory=Counter)
    false: Counter[str] = field(default_factory=Counter)
    unshown: Counter[str] = field(default_factory=Counter)
    heater_days: float = 0.0
    most_bytes: float = 0.0
    log: list[str] = field(default_factory=list)
    beside: Counter[tuple[str, str]] = field(default_factory=Counter)
    """Wrong names that stood beside the right one."""
    right: Mapping[str, set[str]] = field(default_factory=lambda: RIGHT)

    def recall(self, kind: str) -> float | None:
        """Share of the ordered faults that were named right; None where none was ordered."""
        right, ordered = self.counts(kind)
        return right / ordered if ordered else None

    def counts(self, kind: str) -> tuple[int, int]:
        """How many of this kind were named right, and how many were ordered."""
        ordered = sum(count for (one, _), count in self.named.items() if one == kind)
        right = sum(count for (one, name), count in self.named.items() if one == kind and name in self.right[kind])
        return right, ordered


class Trial:
    """One heater's faults, in turn."""

    def __init__(
        self, home: Home, key: str, tally: Tally, seed: int, only: tuple[str, ...] | None = None
    ) -> None:
        self.home, self.key, self.tally = home, key, tally
        self.rng = Random(f"trial/{seed}/{key}")
        self.kinds = self._kinds(only or KINDS[key.partition("/")[0]])
        self.kind: str | None = None
        self.burns_in = self.rng.uniform(0.0, BURNS_WITHIN_SECONDS)
        self.due = 30.0 + self.rng.uniform(0.0, 12.0)
        self.begun = self.closed_at = 0.0
        self.shown: float | None = None
        self.before: set[str] = set()
        self.named_at: float | None = None
        self.told: list[str] = []

    def _kinds(self, those: tuple[str, ...]) -> Iterator[str]:
        while True:
            kinds = [kind for kind in those if kind != "bad socket" or self.home.meter.volts]
            self.rng.shuffle(kinds)
            yield from kinds

    def live(self, told: list[str]) -> None:
        """After the orders of each tick: hear, or end."""
        mine = [NAMES.get(about.rpartition("/")[2]) for about in told if about.startswith(f"{self.key}/")]
        mine = [name for name in mine if name is not None]
        if self.kind is None:
            between = [name for name in mine if name != "cut-out"]
            self.tally.false.update(between)
            self.tally.log += [
                f"{self.home.hours:7.1f} h {self.key}: {name} without a fault" for name in between
            ]
            self._has_looked()
            return
        self.told += mine
        if self.named_at is None and any(name not in OPEN or name == self.kind for name in mine):
            self.named_at = self.home.hours
        if self.shown is None:
            late = self.home.hours - self.begun > UNSHOWN_HOURS
        else:
            late = self.home.hours - self.shown > WINDOWS_HOURS[self.kind]
        if late or (self.named_at is not None and self.home.hours - self.named_at > LINGER_HOURS):
            self._end()

    def look(self) -> None:
        """At the end of each tick, before what comes of it is ordered: whether the fault has acted yet."""
        if self.kind is not None and self.shown is None and self._acts():
            self.shown = self.home.hours

    def _acts(self) -> bool:
        """Whether the fault makes a difference now that is there to be read."""
        plug = self.home.simulated.plugs[self.key]
        if self.kind == "welded":
            return not plug.relay_on
        if self.kind == "cut-out":
            return self._opening_read()
        if self.kind in ("covered", "dial"):
            return plug.relay_on and (plug.heater.cutout_open or plug.heater.dial_open)
        return plug.relay_on

    def _opening_read(self) -> bool:
        """Whether a report came while the cut-out was open; between reports an opening and a rest read alike."""
        plug, read = self.home.simulated.plugs[self.key], self.home.simulated.plugs[self.key].report()
        if not (plug.relay_on and plug.heater.cutout_open):
            self.closed_at = self.home.simulated.steady
        elif read.watts is not None and read.watts_at is not None and read.watts_at > self.closed_at:
            return read.watts < LESS_SHARE * self._full_watts()
        return False

    def _has_looked(self, *codes: str) -> None:
        """The owner says of what waits for them, and of these, that they have looked."""
        for trouble in self.home.result.troubles:
            key, _, code = trouble.id.rpartition("/")
            if key == self.key and (trouble.latched or code in codes):
                self.home.regulator.do(self.home.simulated.moment(), Seen(trouble.id, "owner"))

    def _ready(self) -> bool:
        standing = {code for code in self.home.standing(self.key) if code in NAMES} - {"cut-out"}
        if standing and self.home.hours < self.due + STALE_HOURS:
            return False
        if not hasattr(self, "next"):
            self.next = next(self.kinds)
        drawing = self.home.simulated.plugs[self.key].drawn_watts
        return self.next != "element" or (drawing > LESS_SHARE * self._full_watts() and self._burns())

    def _burns(self) -> bool:
        """Whether so much time with current has passed: each moment of it is as likely as another."""
        self.burns_in -= self.home.tick_seconds
        return self.burns_in < 0.0

    def _full_watts(self) -> float:
        heater = self.home.simulated.plugs[self.key].heater
        return heater.design.selection_watts(heater.selection, 230.0)

    def begins(self) -> list[tuple[float, Callable[[], None]]]:
        """What may begin before the next tick, and how many seconds from now."""
        due = self.kind is None and self.home.hours >= self.due
        return [(self.rng.uniform(0.0, self.home.tick_seconds), self._begin_if_ready)] if due else []

    def _begin_if_ready(self) -> None:
        if self._ready():
            self._begin()

    def _begin(self) -> None:
        self.kind, self.begun, self.named_at, self.told = self.next, self.home.hours, None, []
        self.closed_at = self.home.simulated.steady
        self.shown, self.before = None, {NAMES.get(code, "") for code in self.home.standing(self.key)}
        del self.next
        rng = self.rng
        self.burns_in = rng.uniform(0.0, BURNS_WITHIN_SECONDS)
        self.how: dict[str, object] = {}

        def fault(key: str, kind: str, how: dict[str, float | str]) -> None:
            self.how = {"by": kind, **how}
            self.home.simulated.fault(key, kind, **how)

        if self.kind == "cut-out":
            self._new_heater()
        elif self.kind == "selector":
            heater = self.home.simulated.plugs[self.key].heater
            others = [one for one in range(len(heater.design.selections)) if one != heater.selection]
            watts = heater.design.selection_watts(rng.choice(others), 230.0)
            fault(self.key, "selector_moved", {"watts": round(watts)})
        else:
            fault(self.key, *_fault_of(self.kind, rng))

    def _new_heater(self) -> None:
        """Another heater of the same make stands there, cold, of which nothing is known yet."""
        plug = self.home.simulated.plugs[self.key]
        plug.heater = replace(plug.heater, body_celsius=self.home.simulated.places[plug.place].body.air_celsius)
        plug.heater.cutout_open = False
        kept = self.home.regulator._memory.heaters[self.key]
        kept.facts, kept.body, kept.notes = HeaterFacts(), BodyMemory(), {}

    def _end(self) -> None:
        standing = [NAMES[code] for code in self.home.standing(self.key) if code in NAMES]
        standing = [name for name in standing if name not in self.before or name in self.told]
        names = standing or self.told
        others = [name for name in names if name != "cut-out"]
        named = (others or names or [NONE])[-1] if self.kind != "cut-out" else (names or [NONE])[0]
        if self.kind in names:
            named = self.kind
        right = self.tally.right[self.kind]
        if named in right:
            self.tally.beside.update((self.kind, name) for name in set(others) - right - {"early"})
        if self.shown is None and named == NONE:
            self.tally.unshown[self.kind] += 1
        else:
            self.tally.named[(self._kind_by_now(named), named)] += 1
        for name in set(self.told) - set(standing) - {"cut-out", named}:
            self.tally.withdrawn[(self.kind, name)] += 1
        self.tally.log.append(
            f"{self.begun:7.1f} h {self.key}: {self.kind} {self.how} was called {named} after "
            f"{self.home.hours - self.begun:.1f} h; acts since "
            f"{'never' if self.shown is None else f'{self.shown:.1f} h'}; told {self.told}, "
            f"standing {standing}, before {sorted(self.before)}"
        )
        self.home.simulated.mend(self.key)
        self._has_looked("covered", "opens-early", "dial-down")
        self.kind, self.due = None, self.home.hours + self.rng.uniform(*BETWEEN_HOURS)

    def _kind_by_now(self, named: str) -> str:
        """What was ordered; a body so hot under its cover that its manual reset opened may be called nothing."""
        heater = self.home.simulated.plugs[self.key].heater
        dead = self.kind == "covered" and named == "nothing" and (heater.manual_open or heater.fuse_open)
        return "nothing" if dead else str(self.kind)


def _fault_of(kind: str, rng: Random) -> tuple[str, dict[str, float | str]]:
    """The rehearsal's name and options of a fault."""
    return {
        "covered": lambda: ("covered", {}),
        "nothing": lambda: (rng.choice(("knocked_over", "fuse_gone", "unplugged")), {}),
        "dial": lambda: ("dial_down", {"celsius": round(rng.uniform(40.0, 55.0), 1)}),
        "element": lambda: ("element_burnt", {"index": rng.choice((0, 1))}),
        "welded": lambda: ("contact_welded", {}),
        "bad socket": lambda: ("bad_socket", {"ohms": round(rng.uniform(1.2, 2.0), 2)}),
        "carried": lambda: ("carried_to", {"room": "landing"}),
    }[kind]()


def faulted(
    meter: Meter, seed: int, days: int, only: Mapping[str, tuple[str, ...]] | None = None, quick: bool = False
) -> Tally:
    """So many days of a house in which one heater or other always has a fault; `only` these, by heater."""
    home, tally = Home(meter, seed, days, quick), Tally(right=QUICK_RIGHT if quick else RIGHT)
    trials = [Trial(home, key, tally, seed, (only or {}).get(key)) for key in home.keys]
    weighed = 0.0
    while home.hours < 24.0 * days:
        told = home.decide()
        for trial in trials:
            trial.live(told)
        home.advance([one for trial in trials for one in trial.begins()])
        for trial in trials:
            trial.look()
        if home.hours >= weighed:
            weighed = home.hours + WEIGHED_HOURS
            memory = home.regulator.memory
            tally.most_bytes = max(tally.most_bytes, len(json.dumps(memory)) / len(memory["rooms"]))
    tally.heater_days = days * len(trials)
    return tally


def sound(meter: Meter, seed: int, days: int, quick: bool = False) -> Counter[str]:
    """So many days without a fault: what was told all the same. An opening of a cut-out is true, not an alarm."""
    home, told = Home(meter, seed, days, quick), Counter()
    while home.hours < 24.0 * days:
        told.update(about.rpartition("/")[2] for about in home.tick())
    told.pop("cut-out", None)
    return told
