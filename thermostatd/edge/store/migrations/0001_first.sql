-- Temperatures are hundredths of a degree C, times are milliseconds since 1970, minutes are Unix seconds / 60.
CREATE TABLE name (id INTEGER PRIMARY KEY, words TEXT NOT NULL UNIQUE);

CREATE TABLE memory (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    json TEXT NOT NULL, boot_id TEXT NOT NULL, boot_seconds REAL NOT NULL, steady REAL NOT NULL, wall TEXT NOT NULL
);

CREATE TABLE request (
    id INTEGER PRIMARY KEY, wall INTEGER NOT NULL, steady REAL NOT NULL, kind TEXT NOT NULL, about TEXT NOT NULL,
    celsius INTEGER, until INTEGER, who TEXT, origin TEXT, answer TEXT NOT NULL, code TEXT, replaced TEXT
);
CREATE INDEX request_about ON request (about, id);

CREATE TABLE event (
    id INTEGER PRIMARY KEY, wall INTEGER NOT NULL, code TEXT NOT NULL, about TEXT NOT NULL, sentence TEXT NOT NULL
);
CREATE INDEX event_wall ON event (wall);

-- The minute comes first in the keys: all rooms of a minute land on one page, which spares a memory card.
CREATE TABLE minute (
    minute INTEGER NOT NULL, room INTEGER NOT NULL, air INTEGER, target INTEGER, outdoor INTEGER, whose INTEGER NOT NULL,
    PRIMARY KEY (minute, room)
) WITHOUT ROWID;

CREATE TABLE heater_minute (
    minute INTEGER NOT NULL, heater INTEGER NOT NULL,
    on_seconds INTEGER NOT NULL, watt_seconds INTEGER NOT NULL, switches INTEGER NOT NULL,
    PRIMARY KEY (minute, heater)
) WITHOUT ROWID;

CREATE TABLE code (hash TEXT PRIMARY KEY, role TEXT NOT NULL, expires INTEGER NOT NULL, name TEXT NOT NULL) WITHOUT ROWID;

CREATE TABLE device (
    hash TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, until INTEGER, added INTEGER, seen INTEGER
) WITHOUT ROWID;
