"""A meter that speaks only when its power has moved: what its silence says.

Rules: it is known by telling each switching within three quarters of a minute, so many times on end that a meter which
speaks by the clock, at the longest gap that was seen, would hardly ever do so by chance; a switching told later takes
half of them back (it may have been a cut-out that closed). A word that came as long after the last one as that did, or
so many times as long, counts for nothing: a heater that switches to the beat of a meter's clock is told in time for as
long as it does. While it is silent, its last word is taken to be repeated every half minute, for an hour and a little
more, and never from a plug that cannot be reached.
"""

from __future__ import annotations

from math import ceil, log

from thermostatd.core.memory import HeaterMemory

PROMPT_SECONDS = 45.0
SLOW_PERIOD_SECONDS = 61.0  # a meter that tells within it tells soon enough by itself
CHANCE = 16.0  # natural logarithm: one in nine million
MOST_PROMPT = ceil(CHANCE / log(SLOW_PERIOD_SECONDS / PROMPT_SECONDS))
BEAT_SHARE, LONGEST_BEAT_SECONDS = 0.08, 360.0  # meters speak by the clock each five minutes at the most
REPEAT_SECONDS, LONGEST_SECONDS = 30.0, 3900.0


def speaks_on_change(kept: HeaterMemory) -> bool:
    """Whether its silence says that its power has not moved."""
    return kept.meter_prompt >= _needed(kept.meter_gap)


def note_switching(kept: HeaterMemory, since: float, at: float, moved: bool, gap: float) -> None:
    """Take in a report of the steady second `at`, of a switching at `since`; `moved`: it shows that switching; `gap`:
    seconds since the report before."""
    last, kept.meter_last = kept.meter_last, round(gap, 1)
    if not moved or kept.meter_told == since:
        return
    kept.meter_told = since
    if at - since > PROMPT_SECONDS:
        kept.meter_prompt //= 2
    elif not _on_the_beat(gap, last):
        kept.meter_prompt = min(kept.meter_prompt + 1, MOST_PROMPT)


def _on_the_beat(gap: float, last: float) -> bool:
    """Whether one is so many times the other as reports by a clock, of which some were lost, would have it."""
    short, long = sorted((gap, last))
    times = round(long / short) if 0.0 < short <= LONGEST_BEAT_SECONDS else 0
    return times > 0 and abs(long - times * short) <= BEAT_SHARE * short


def repeats(kept: HeaterMemory, steady: float) -> bool:
    """Whether its last word counts as said again now."""
    if kept.watts is None or kept.watts_at is None or kept.meter_at is None or not kept.reachable:
        return False
    due = steady - kept.watts_at >= REPEAT_SECONDS and steady - kept.meter_at <= LONGEST_SECONDS
    return due and speaks_on_change(kept)


def _needed(gap_seconds: float) -> int:
    """How many prompt words on end speak against a meter that tells every so many seconds."""
    if gap_seconds <= SLOW_PERIOD_SECONDS:
        return MOST_PROMPT + 1
    return ceil(CHANCE / log(gap_seconds / PROMPT_SECONDS))
