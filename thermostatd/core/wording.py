"""A wordy table as one short text, and back: JSON deflated (RFC 1950) with the words that such tables use, in base64.

Rules: nothing is changed by it; a table that it would not make clearly shorter stays a table. WORDS is never edited:
texts that were written with it could not be read any more. What is named anew is only told in a few letters more.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64decode, b64encode
from typing import Any

WORTH_CHARACTERS = 64
MOST_BYTES = 1_000_000
WORDS = (
    b'"held":"tries":"level_watts":"since":"celsius":"peak":"slope":"lifted":false,"heat_at":"low":"changed":"gain":'
    b'"cycles":{"begun":"heats":true,"heat":[0.0"air":["sums":["doubt":"failed":0,"answered_at":"run":{"covered":{'
    b'"pause_until":"latched":"evidence":"unsure":"share":"code":"level":"opened":{"on_at":"before":"after":"seconds":'
    b'"warmth":"most":"early":"other":"open":{"found":"gone":{"hot":"flowed_at":"log":["silent-plug":{"all-off":{'
    b'"circuit":{"pacing":{"bad-socket":{"last":["noise":0.00"row":[0.1, -0.1,"usual":0.1'
    b'"cut-out":{"warm_at":"cold":"proven":[["tripped_at":"openings":"top":"last_at":"drawing-nothing":{"drew_at":'
    b'"nothing_count":0,"early_runs":0,"tries":0},"meter":{"runs":"no-answer":{"reading-missing":{"value":"joules":'
    b'"count":"warm-plug":{"trail":[["on_at":"judged_at":"at":'
    b'"several":{"known":"proportional":{"integral":"hysteresis":{"predictive":{"on":true,"on":false,"joules":0,'
    b'"state":["fitted_at":"read_at":"surprise":0."at_odds":false,"target":"falling":false,"arrival":0,"rise":null,'
    b'"share":0."want":true,"want":false,"outlook":{"decided":[true,false,null],"course":[["warm_at":null,"wanted":'
    b'"by":null,"reach":null,"limit":-"ahead":{"arriving":null,"bias":-0."late":[-'
    b'"constants":{"heater_seconds":"air_joules_per_kelvin":"mass_joules_per_kelvin":"to_mass":"to_outdoors":'
    b'"to_neighbours":"sensor_seconds":"radiant":0."drift_watts":"step_kelvin":0.1,"watts":"profile":["outdoors":[-'
    b'"loss_watts_per_kelvin":"loss_spread_watts_per_kelvin":"settling_hours":"settling_spread_hours":'
    b'"answer_spread":0.0"rms_kelvin":[0.0"held_out_kelvin":0.0"hours":"at":'
)


def text_of(table: dict[str, Any]) -> str | dict[str, Any]:
    """The table as a text; itself where that is hardly longer."""
    plain = json.dumps(table, separators=(",", ":"), ensure_ascii=False).encode()
    machine = zlib.compressobj(9, zlib.DEFLATED, zlib.MAX_WBITS, zlib.DEF_MEM_LEVEL, zlib.Z_DEFAULT_STRATEGY, WORDS)
    text = b64encode(machine.compress(plain) + machine.flush()).decode()
    return text if len(text) + WORTH_CHARACTERS <= len(plain) else table


def table_of(text: str) -> dict[str, Any]:
    """The table of such a text. ValueError where it is none."""
    machine = zlib.decompressobj(zlib.MAX_WBITS, WORDS)
    try:
        plain = machine.decompress(b64decode(text, validate=True), MOST_BYTES)
    except zlib.error as fault:
        raise ValueError(f"a part of this memory is damaged: {fault}") from fault
    table = json.loads(plain) if machine.eof else None
    if not isinstance(table, dict):
        raise ValueError("a part of this memory is damaged: it holds no table")
    return table
