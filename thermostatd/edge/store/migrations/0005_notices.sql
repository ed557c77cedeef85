-- What the owner was told of troubles, so that a restart tells nothing twice. JSON.
CREATE TABLE told (only_row INTEGER PRIMARY KEY CHECK (only_row = 1), body TEXT NOT NULL);
