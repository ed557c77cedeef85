-- Old minutes are thinned to quarter hours; `minute` is the first of the fifteen.
CREATE TABLE quarter (
    minute INTEGER NOT NULL, room INTEGER NOT NULL, air INTEGER, target INTEGER, outdoor INTEGER, whose INTEGER NOT NULL,
    PRIMARY KEY (minute, room)
) WITHOUT ROWID;

CREATE TABLE heater_quarter (
    minute INTEGER NOT NULL, heater INTEGER NOT NULL,
    on_seconds INTEGER NOT NULL, watt_seconds INTEGER NOT NULL, switches INTEGER NOT NULL,
    PRIMARY KEY (minute, heater)
) WITHOUT ROWID;
