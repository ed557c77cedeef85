"""What may keep interrupting a heater whose meter is slow, and how the replay of each cause is judged.

Rules: shares are of the warmth at which its cut-out opens; chances are logarithms of likelihoods. What plays the causes
(`replay`) loads numpy, so it is imported only where there is a log to read.
"""

from __future__ import annotations

from dataclasses import dataclass

OFF, ON, FLOWS, NOTHING = 0, 1, 2, 3
SURELY = 3.0  # twenty to one
SURELY_DIAL = 5.0  # 150 to one: nobody takes a cover away that is called a dial
SURELY_UNASKED = 5.0
LEANS = 1.0  # as e to one: a cover that is called a dial costs more than a dial that is called a cover
CLOSES_SHARE = 0.74
DIAL_BAND_SHARE = 0.08


@dataclass(frozen=True, slots=True)
class Switch:
    """A switch on the body: opens and closes at shares of the free opening warmth; `sheds` of the output is left."""

    opens: float
    closes: float
    sheds: float = 1.0


FREE = tuple(Switch(opens, closes * opens) for opens in (0.92, 1.0, 1.08) for closes in (0.68, 0.74, 0.80))
DIAL = tuple(
    Switch(opens, opens - DIAL_BAND_SHARE) for opens in (0.28, 0.32, 0.36, 0.40, 0.44, 0.48, 0.52, 0.56, 0.60)
)
COVERED = tuple(
    Switch(opens, CLOSES_SHARE * opens, sheds) for opens in (0.60, 0.67, 0.74) for sheds in (0.3, 0.4, 0.55)
)
CAUSES = (DIAL, COVERED, FREE)


@dataclass(frozen=True, slots=True)
class Chances:
    """How well each cause explains the log: logarithms of likelihoods. `away`: power was gone for a while, from
    outside the body, and is back for good."""

    dial: float
    covered: float
    free: float
    away: float

    @property
    def is_dial(self) -> bool:
        """Surely the dial."""
        return self.dial - max(self.covered, self.free, self.away) >= SURELY_DIAL

    @property
    def is_covered(self) -> bool:
        """Surely a cover."""
        return self.covered - max(self.dial, self.free, self.away) >= SURELY

    @property
    def is_covered_unasked(self) -> bool:
        """The same of a heater that nothing else makes suspect."""
        return self.covered - max(self.dial, self.free, self.away) >= SURELY_UNASKED

    @property
    def is_early(self) -> bool:
        """Surely no free body: its dial or a cover."""
        return max(self.dial, self.covered) - self.free >= SURELY

    @property
    def leans_to_a_cover(self) -> bool:
        """Rather a cover than the dial, if it is either."""
        return self.covered > self.dial

    @property
    def leans_to_the_dial(self) -> bool:
        """Clearly rather the dial than a cover, and than anything else: told beside what keeps it off until someone
        has looked for a cover."""
        return self.dial - self.covered > LEANS and self.dial > max(self.free, self.away)

    @property
    def may_be_either(self) -> bool:
        """About as likely the one as the other: to be looked at as a cover."""
        return 0.0 <= self.dial - self.covered <= LEANS

    @property
    def is_free(self) -> bool:
        """Surely neither."""
        return max(self.free, self.away) - max(self.dial, self.covered) >= SURELY
