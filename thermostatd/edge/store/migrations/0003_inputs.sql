-- What the rules were given, so that a day can be decided again. Bodies are zlib-packed JSON; times are milliseconds.
-- A segment begins at each midnight and each start of the program, with the memory just then and its house file.
CREATE TABLE described (digest TEXT PRIMARY KEY, body BLOB NOT NULL) WITHOUT ROWID;

CREATE TABLE segment (
    id INTEGER PRIMARY KEY, mark INTEGER NOT NULL UNIQUE, wall INTEGER NOT NULL, day TEXT NOT NULL, described TEXT NOT NULL,
    program TEXT NOT NULL, memory BLOB NOT NULL
);
CREATE INDEX segment_day ON segment (day);

CREATE TABLE input (
    mark INTEGER NOT NULL, part INTEGER NOT NULL, wall INTEGER NOT NULL, body BLOB NOT NULL, PRIMARY KEY (mark, part)
);

-- What nightly learning learns from, as it was last kept.
CREATE TABLE learning (only_row INTEGER PRIMARY KEY CHECK (only_row = 1), wall INTEGER NOT NULL, body BLOB NOT NULL);
