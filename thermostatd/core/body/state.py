"""What is remembered of a heater's body: a few candidates for its store of heat, each with its own warmth.

Rules: JSON-able; `warmth` is the rise over the room on a scale on which the output is warmth ** 1.3 watts, so that
no temperature of the body need be known; one entry for each candidate; times are steady seconds; every default is
"nothing is known".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from thermostatd.core.body.store import all_later

MOST_LESSONS = 3
MOST_ODD = 3


@dataclass
class Lesson:
    """One opening as each candidate saw it, in a room of 20 °C: warmth at the reports before and after."""

    at_wall: float
    before: list[float]
    after: list[float]
    ran_seconds: float = 0.0


@dataclass
class BodyMemory:
    """`store_joules` is the candidates' middle; `opens` and `weights` are what the lessons say of each.

    `proven` is the warmth at the last report that showed power on its level (or at switch-on), at `proven_at`;
    `full_watts` is that level, `drew_watts` as metered;
    `fell_at` is when a report first showed less, `fall` what that would teach if it
    turns out to be an opening, `tail` the first powers after it; `most` is the greatest warmth reached without one;
    `ended` the warmth at which the last run ended, where an opening at its end would have been told by the next one.
    `opened` holds until power on its level is seen again; where a switch-on found it still open, it has to cool to
    `cool_share` first. `trial` is a run that may go on until it opens; `usual_opens` is the warmth at which such
    bodies open; `wide` says that the openings lie between reports too far apart to tell the store (see `brackets`),
    `dared` is the share by which the last step may have passed what it showed;
    `no_means`: the meter was seen to tell power at once; `begun` is when it was first followed, however warm it was.
    `suspected`: a cover or the dial was held to keep it from its warmth when it was last looked at.
    """

    store_joules: float | None = None
    at: float | None = None
    watts: float = 0.0
    warmth: list[float] = field(default_factory=list)
    proven: list[float] = field(default_factory=list)
    proven_at: float | None = None
    proven_watts: float | None = None
    peak_watts: float = 0.0
    full_watts: float | None = None
    drew_watts: float | None = None
    fell_at: float | None = None
    judged_at: float | None = None
    most: list[float] = field(default_factory=list)
    ended: list[float] = field(default_factory=list)
    trips_taken: int = 0
    fall: Lesson | None = None
    tail: list[float] = field(default_factory=list)
    lessons: list[Lesson] = field(default_factory=list)
    odd: list[Lesson] = field(default_factory=list)
    opens: list[float] = field(default_factory=list)
    weights: list[float] = field(default_factory=list)
    doubtful_until: float = 0.0
    opened: bool = False
    cool_share: float = 1.0
    trial: bool = False
    trials: int = 0
    usual_opens: float | None = None
    wide: bool = False
    dared: float = 0.0
    no_means: bool = False
    begun: float | None = None
    suspected: bool = False

    def after(self, warmth: Sequence[float], watts: float, seconds: float) -> list[float]:
        """Every candidate's warmth, from these, after `seconds` at `watts`; as they are where no time goes by."""
        assert self.store_joules is not None
        if seconds == 0.0:
            return list(warmth)
        return all_later(warmth, watts, seconds, self.store_joules)
