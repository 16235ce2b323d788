-- Results whole but compressed, each distinct request once; what the pages look for, by index. The tables result and
-- result_reading keep what earlier programs wrote, as they wrote it: nothing is copied, and they are read for ever.
CREATE TABLE request (
    id   INTEGER PRIMARY KEY,
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32), -- SHA-256 of the request's JSON
    body BLOB NOT NULL -- packed
) STRICT;

CREATE TABLE run (
    id          INTEGER PRIMARY KEY AUTOINCREMENT, -- goes on from result's
    bench       TEXT    NOT NULL,
    build       TEXT    NOT NULL,
    step        TEXT    NOT NULL,
    pass        INTEGER NOT NULL,
    key         TEXT    NOT NULL,
    n           INTEGER NOT NULL, -- entry that caused it
    method      TEXT    NOT NULL,
    version     INTEGER NOT NULL,
    rules       INTEGER NOT NULL,
    verdict     TEXT    NOT NULL,
    provisional INTEGER NOT NULL,
    request     INTEGER NOT NULL REFERENCES request (id),
    body        BLOB    NOT NULL, -- the result without its request, packed
    running     BLOB    NOT NULL CHECK (length(running) = 32), -- over this row and all before it
    FOREIGN KEY (bench, n) REFERENCES entry (bench, n)
) STRICT;
CREATE INDEX run_build ON run (bench, build, n);
CREATE INDEX run_entry ON run (bench, n);
INSERT INTO sqlite_sequence (name, seq) SELECT 'run', coalesce(max(id), 0) FROM result;

CREATE TABLE run_reading (
    reading TEXT    NOT NULL,
    run     INTEGER NOT NULL REFERENCES run (id),
    PRIMARY KEY (reading, run)
) STRICT, WITHOUT ROWID;

CREATE INDEX entry_build ON entry (bench, build, n);
CREATE INDEX entry_kind ON entry (bench, kind, n);
CREATE INDEX entry_step ON entry (bench, step, n);
CREATE INDEX entry_step_kind ON entry (bench, step, kind, n);

-- Which entries speak of a gauge.
CREATE TABLE gauge_entry (
    bench TEXT    NOT NULL,
    gauge TEXT    NOT NULL,
    kind  TEXT    NOT NULL,
    n     INTEGER NOT NULL,
    PRIMARY KEY (bench, gauge, kind, n)
) STRICT, WITHOUT ROWID;
CREATE INDEX gauge_entry_n ON gauge_entry (bench, gauge, n);

-- What entries say, by every three signs in a row; the row is the entry's number. It says which entries may hold a text:
-- the entry itself decides.
CREATE VIRTUAL TABLE said USING fts5 (words, content = '', tokenize = 'trigram', detail = none, columnsize = 0);

-- Every build there ever was: what is known of it without folding its entries.
CREATE TABLE build (
    bench  TEXT    NOT NULL,
    job    TEXT    NOT NULL,
    engine TEXT    NOT NULL,
    plan   TEXT    NOT NULL,
    n      INTEGER NOT NULL, -- entry that began it
    at     INTEGER NOT NULL,
    closed INTEGER NOT NULL DEFAULT 0, -- entry that closed it
    summary TEXT   NOT NULL DEFAULT '', -- what a list shows of it, JSON; '' not reckoned yet
    PRIMARY KEY (bench, job),
    FOREIGN KEY (bench, n) REFERENCES entry (bench, n)
) STRICT, WITHOUT ROWID;

-- The last entry that was recorded: a ledger that ends before it has lost its end.
ALTER TABLE checkpoint ADD COLUMN n INTEGER NOT NULL DEFAULT 0;
UPDATE checkpoint SET n = coalesce((SELECT max(n) FROM entry WHERE entry.bench = checkpoint.bench), 0);
