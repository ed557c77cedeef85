"""When exactly power fell, told by a meter that follows slowly or tells means: its first readings after the fall.

Rules: three readings an even period apart. A reading that nears its end by a constant share each period lags; one that
is between for a single report was a mean. A meter that shows the end at once tells only the interval. Of a meter that
tells no means a single reading says something too: in between, it fell just now. Pure arithmetic.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

BETWEEN_SHARE = 0.04  # of the fall: less than this from the end is noise
MARGIN_SECONDS = 1.0
MARGIN_SHARE = 0.1
LONGEST_LAG_SECONDS, SHORTEST_LAG_SECONDS = (
    8.0,
    3.0,
)  # of plugs' meters (common practice, no published source)


def seconds_since_fall(
    before_watts: float, readings: Sequence[float], wide_seconds: float, period_seconds: float
) -> tuple[float, float]:
    """The least and the most seconds from the fall to the first of three `readings`, W, within `wide_seconds`."""
    first, second, third = readings
    end = _end(first, second, third)
    fall = before_watts - end
    if fall <= 0.0:
        return 0.0, wide_seconds
    left, later = (first - end) / fall, (second - end) / fall
    if not BETWEEN_SHARE < left < 1.0:
        return 0.0, wide_seconds
    if later > BETWEEN_SHARE / 4.0 and later < left:
        lag = period_seconds / log(left / later)
        since = lag * log(1.0 / left)
        margin = MARGIN_SECONDS + MARGIN_SHARE * since
        return _within(since - margin, wide_seconds), _within(since + margin, wide_seconds)
    return 0.0, _within((1.0 - left) * period_seconds + MARGIN_SECONDS, wide_seconds)


def seconds_at_once(
    before_watts: float, reading: float, end_watts: float, wide_seconds: float
) -> tuple[float, float]:
    """The same from one reading of a meter that tells no means; `end_watts` is where it is going."""
    fall = before_watts - end_watts
    if fall <= 0.0:
        return 0.0, wide_seconds
    left = min((reading - end_watts) / fall, 0.99)
    if left <= BETWEEN_SHARE:
        return _within(SHORTEST_LAG_SECONDS * log(1.0 / BETWEEN_SHARE), wide_seconds), wide_seconds
    return 0.0, _within(MARGIN_SECONDS + LONGEST_LAG_SECONDS * 1.5 * log(1.0 / left), wide_seconds)


def _end(first: float, second: float, third: float) -> float:
    """Where three readings that near an end by one share are going."""
    bend = first + third - 2.0 * second
    if first > second > third and bend > 0.02 * first:
        return max(0.0, (first * third - second * second) / bend)
    return min(second, third)


def _within(seconds: float, most: float) -> float:
    return min(max(0.0, seconds), most)
