"""One line of the table: what was measured, the measure, its goal, and whether it is met.

Rules: speeds and sizes of programs are ratios of two things measured in the same run; a row without a goal only tells.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """`measured` and `most` are in `unit`; `most` None sets no goal. `note` says what the measure is made of."""

    what: str
    measured: float
    most: float | None = None
    unit: str = "x"
    note: str = ""

    @property
    def met(self) -> bool:
        """Whether the goal is kept; true where there is none."""
        return self.most is None or self.measured <= self.most

    def line(self) -> str:
        """The row as printed."""
        goal = "-" if self.most is None else f"<= {self.most:g}"
        verdict = "-" if self.most is None else "ok" if self.met else "SHORT"
        return f"{self.what:<52} {self.measured:>9.3f} {self.unit:<6} {goal:>8}  {verdict:<5}  {self.note}"


def table(rows: list[Row]) -> str:
    """All rows under one heading."""
    head = f"{'what':<52} {'measured':>9} {'unit':<6} {'goal':>8}  {'':<5}  made of"
    return "\n".join([head, "-" * len(head), *(row.line() for row in rows)])
