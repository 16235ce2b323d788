-- The ledger. Only entry and quarantine are truth: every other table can be made again from entry.
PRAGMA application_id = 1953001333; -- "thou"

CREATE TABLE entry (
    bench TEXT    NOT NULL,
    n     INTEGER NOT NULL CHECK (n > 0),
    id    TEXT    NOT NULL UNIQUE,
    kind  TEXT    NOT NULL,
    at    INTEGER NOT NULL, -- µs since 1970, UTC
    build TEXT    NOT NULL,
    step  TEXT    NOT NULL,
    pass  INTEGER NOT NULL,
    point TEXT    NOT NULL,
    body  BLOB    NOT NULL, -- as published, byte for byte
    seal  BLOB    NOT NULL CHECK (length(seal) = 32),
    PRIMARY KEY (bench, n)
) STRICT;

-- What is in the ledger stays as it is.
CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN
    SELECT RAISE(ABORT, 'an entry is never changed');
END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN
    SELECT RAISE(ABORT, 'an entry is never deleted');
END;

CREATE TABLE quarantine (
    id    INTEGER PRIMARY KEY,
    bench TEXT    NOT NULL,
    body  BLOB    NOT NULL,
    why   TEXT    NOT NULL,
    at    INTEGER NOT NULL
) STRICT;

CREATE TABLE reading (
    bench     TEXT    NOT NULL,
    n         INTEGER NOT NULL,
    id        TEXT    NOT NULL UNIQUE,
    build     TEXT    NOT NULL,
    step      TEXT    NOT NULL,
    pass      INTEGER NOT NULL,
    point     TEXT    NOT NULL,
    seating   INTEGER NOT NULL,
    gauge     TEXT    NOT NULL,
    base      REAL    NOT NULL, -- the value in its kind's base unit
    withdrawn INTEGER NOT NULL DEFAULT 0, -- number of the entry that withdrew it
    PRIMARY KEY (bench, n),
    FOREIGN KEY (bench, n) REFERENCES entry (bench, n)
) STRICT, WITHOUT ROWID;
CREATE INDEX reading_point ON reading (bench, point, n);
CREATE INDEX reading_build ON reading (bench, build, n);

CREATE TABLE result (
    id          INTEGER PRIMARY KEY,
    bench       TEXT    NOT NULL,
    build       TEXT    NOT NULL,
    step        TEXT    NOT NULL,
    pass        INTEGER NOT NULL,
    key         TEXT    NOT NULL,
    n           INTEGER NOT NULL, -- entry that caused it
    method      TEXT    NOT NULL,
    version     INTEGER NOT NULL,
    verdict     TEXT    NOT NULL,
    provisional INTEGER NOT NULL,
    body        BLOB    NOT NULL, -- request and result
    UNIQUE (bench, build, step, pass, key, n),
    FOREIGN KEY (bench, n) REFERENCES entry (bench, n)
) STRICT;

CREATE TABLE result_reading (
    reading TEXT    NOT NULL,
    result  INTEGER NOT NULL REFERENCES result (id),
    PRIMARY KEY (reading, result)
) STRICT, WITHOUT ROWID;

CREATE TABLE checkpoint (
    bench      TEXT PRIMARY KEY,
    generation TEXT    NOT NULL,
    seq        INTEGER NOT NULL
) STRICT;

CREATE TABLE meta (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;
PRAGMA user_version = 1;
INSERT INTO meta (name, value) VALUES ('bench', 'bench');
