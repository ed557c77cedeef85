"""A steady clock for tests: life's own seconds plus whatever is added by hand."""

from __future__ import annotations

import time


class Steady:
    """Call it for the steady second; `pass_by(seconds)` moves it on at once."""

    def __init__(self) -> None:
        self.added = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.added

    def pass_by(self, seconds: float) -> None:
        """Let so many seconds pass without waiting for them."""
        self.added += seconds
