"""Every SQL statement that runs after the migrations, in one place. Values go in by parameters only."""

from __future__ import annotations

BEGIN = "BEGIN IMMEDIATE"
DURABLE = "PRAGMA synchronous = FULL"
BATCHED = "PRAGMA synchronous = NORMAL"

NAME = "INSERT OR IGNORE INTO name (words) VALUES (?)"

# A place or heater bears another name: its rows, and what is about it or "it/…", such as its troubles.
_BY_NUMBER = """
    UPDATE OR IGNORE {table} SET {column} = (SELECT id FROM name WHERE words = :new)
    WHERE {column} = (SELECT id FROM name WHERE words = :old)"""
_ABOUT = """
    UPDATE {table} SET about = :new || substr(about, length(:old) + 1)
    WHERE about = :old OR substr(about, 1, length(:old) + 1) = :old || '/'"""
RENAMES = (
    *(_BY_NUMBER.format(table=table, column="room") for table in ("minute", "quarter")),
    *(_BY_NUMBER.format(table=table, column="heater") for table in ("heater_minute", "heater_quarter")),
    *(_ABOUT.format(table=table) for table in ("event", "request")),
    "UPDATE device SET room = :new WHERE room = :old",
    "UPDATE code SET room = :new WHERE room = :old",
)

MEMORY_PUT = """
    INSERT OR REPLACE INTO memory (only_row, json, boot_id, boot_seconds, steady, wall)
    VALUES (1, ?, ?, ?, ?, ?)"""
MEMORY_GET = "SELECT json, boot_id, boot_seconds, steady, wall FROM memory"

REQUEST_PUT = """
    INSERT INTO request (wall, steady, kind, about, celsius, until, who, origin, answer, code, replaced)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"""
REQUEST_GET = """
    SELECT wall, steady, kind, about, celsius, until, who, origin, answer, code, replaced FROM request
    WHERE :about IS NULL OR about = :about ORDER BY id DESC LIMIT :limit"""

EVENT_PUT = "INSERT INTO event (wall, code, about, sentence, told) VALUES (?, ?, ?, ?, ?)"
EVENT_GET = """
    SELECT wall, code, about, sentence, told FROM event
    WHERE wall >= :since AND (:about IS NULL OR about = :about) ORDER BY wall DESC, id DESC LIMIT :limit"""

MINUTE_PUT = """
    INSERT OR REPLACE INTO minute (minute, room, air, target, outdoor, whose) VALUES (
    ?, (SELECT id FROM name WHERE words = ?), ?, ?, ?, (SELECT id FROM name WHERE words = ?))"""
MINUTE_GET = """
    WITH wanted AS (SELECT id FROM name WHERE words = :room),
    both AS (
        SELECT *, 1 AS span FROM minute
        WHERE minute >= :since AND minute < :until AND room = (SELECT id FROM wanted)
        UNION ALL
        SELECT *, 15 FROM quarter
        WHERE minute >= :since AND minute < :until AND room = (SELECT id FROM wanted))
    SELECT minute, air, target, outdoor, words, span FROM both JOIN name ON name.id = whose
    ORDER BY minute, span"""

# A minute that comes twice (the wall was set back) adds up: energy is never lost.
HEATER_PUT = """
    INSERT INTO heater_minute (minute, heater, on_seconds, watt_seconds, switches)
    VALUES (?, (SELECT id FROM name WHERE words = ?), ?, ?, ?)
    ON CONFLICT (minute, heater) DO UPDATE SET on_seconds = on_seconds + excluded.on_seconds,
    watt_seconds = watt_seconds + excluded.watt_seconds, switches = switches + excluded.switches"""
HEATER_GET = """
    WITH wanted AS (SELECT id FROM name WHERE words = :heater)
    SELECT minute, on_seconds, watt_seconds, switches, 1 AS span FROM heater_minute
    WHERE minute >= :since AND minute < :until AND heater = (SELECT id FROM wanted)
    UNION ALL
    SELECT minute, on_seconds, watt_seconds, switches, 15 FROM heater_quarter
    WHERE minute >= :since AND minute < :until AND heater = (SELECT id FROM wanted)
    ORDER BY minute, span"""
# The whole record of a span as numbers, for a report. What is not known is told as a number that nothing has.
NAMES = "SELECT id, words FROM name"
MISSING = -32768
ALL_MINUTES = f"""
    SELECT minute, room, 1, ifnull(air, {MISSING}), ifnull(target, {MISSING}), ifnull(outdoor, {MISSING})
    FROM minute WHERE minute >= :since AND minute < :until
    UNION ALL
    SELECT minute, room, 15, ifnull(air, {MISSING}), ifnull(target, {MISSING}), ifnull(outdoor, {MISSING})
    FROM quarter WHERE minute >= :since AND minute < :until"""
ALL_HEATERS = """
    SELECT minute, heater, 1, on_seconds, watt_seconds, switches FROM heater_minute
    WHERE minute >= :since AND minute < :until
    UNION ALL
    SELECT minute, heater, 15, on_seconds, watt_seconds, switches FROM heater_quarter
    WHERE minute >= :since AND minute < :until"""
# One pass over the minutes for all heaters: the minute comes first in the keys.
ENERGIES = """
    WITH piece AS (
        SELECT key AS place, value ->> 0 AS since, value ->> 1 AS until FROM json_each(:pieces)),
    sums AS (
        SELECT place, heater, sum(watt_seconds) AS took FROM piece JOIN heater_minute
        ON minute >= since AND minute < until GROUP BY place, heater
        UNION ALL
        SELECT place, heater, sum(watt_seconds) FROM piece JOIN heater_quarter
        ON minute >= since AND minute < until GROUP BY place, heater)
    SELECT words, place, sum(took) FROM sums JOIN name ON id = heater GROUP BY heater, place"""

OLDEST_MINUTE = """
    SELECT min(oldest) FROM (
        SELECT min(minute) AS oldest FROM minute UNION ALL SELECT min(minute) FROM heater_minute)"""
# With one max() in the query SQLite takes the bare column `whose` from that row: the wish that held last.
THIN = """
    INSERT OR IGNORE INTO quarter (minute, room, air, target, outdoor, whose)
    SELECT minute / 15 * 15 AS first_minute, room,
           round(avg(air)), round(avg(target)), round(avg(outdoor)), whose
    FROM minute WHERE minute < ? GROUP BY first_minute, room HAVING max(minute) IS NOT NULL"""
THIN_HEATERS = """
    INSERT INTO heater_quarter (minute, heater, on_seconds, watt_seconds, switches)
    SELECT minute / 15 * 15 AS quarter, heater, sum(on_seconds), sum(watt_seconds), sum(switches)
    FROM heater_minute WHERE minute < ? GROUP BY quarter, heater
    ON CONFLICT (minute, heater) DO UPDATE SET on_seconds = on_seconds + excluded.on_seconds,
    watt_seconds = watt_seconds + excluded.watt_seconds, switches = switches + excluded.switches"""
DROP_MINUTES = "DELETE FROM minute WHERE minute < ?"
DROP_HEATER_MINUTES = "DELETE FROM heater_minute WHERE minute < ?"
DROP_EVENTS = "DELETE FROM event WHERE wall < ?"
DROP_REQUESTS = "DELETE FROM request WHERE wall < ?"

CODE_PUT = "INSERT OR REPLACE INTO code (hash, role, expires, name, room, until) VALUES (?, ?, ?, ?, ?, ?)"
CODE_GET = "SELECT hash, role, expires, name, room, until FROM code WHERE hash = ?"
CODES = "SELECT hash FROM code WHERE expires > ?"
CODE_DROP = "DELETE FROM code WHERE hash = ?"
CODES_DROP = "DELETE FROM code WHERE expires <= ?"

DEVICE_PUT = (
    "INSERT OR REPLACE INTO device (hash, name, role, until, added, seen, room) VALUES (?, ?, ?, ?, ?, ?, ?)"
)
DEVICES = "SELECT hash, name, role, until, added, seen, room FROM device ORDER BY added, hash"
DEVICES_BEFORE_ROOMS = "SELECT hash, name, role, until, added, seen, NULL FROM device ORDER BY added, hash"
DEVICE_RENAME = "UPDATE device SET name = ? WHERE hash = ?"
DEVICE_FORGET = "DELETE FROM device WHERE hash = ?"
DEVICE_TOUCH = "UPDATE device SET seen = ? WHERE hash = ?"

DESCRIBED_PUT = "INSERT OR IGNORE INTO described (digest, body) VALUES (?, ?)"
SEGMENT_PUT = """
    INSERT OR IGNORE INTO segment (mark, wall, day, described, program, memory) VALUES (?, ?, ?, ?, ?, ?)"""
INPUT_PUT = "INSERT OR IGNORE INTO input (mark, part, wall, body) VALUES (?, ?, ?, ?)"
LEARNING_PUT = "INSERT OR REPLACE INTO learning (only_row, wall, body) VALUES (1, ?, ?)"
LEARNING_GET = "SELECT body FROM learning"
TOLD_PUT = "INSERT OR REPLACE INTO told (only_row, body) VALUES (1, ?)"
TOLD_GET = "SELECT body FROM told"
DAYS = "SELECT DISTINCT day FROM segment JOIN input USING (mark) ORDER BY day"
SEGMENT_GET = """
    SELECT mark, wall, digest, program, memory, body FROM segment JOIN described ON digest = described
    WHERE day = ? ORDER BY id"""
INPUT_GET = "SELECT body FROM input WHERE mark = ? ORDER BY part"
INPUTS_DROP = "DELETE FROM input WHERE mark IN (SELECT mark FROM segment WHERE wall < ?)"
SEGMENTS_DROP = "DELETE FROM segment WHERE wall < ?"
DESCRIBED_DROP = "DELETE FROM described WHERE digest NOT IN (SELECT described FROM segment)"
