-- One ledger may hold several benches: what was counted over the whole file is counted by bench.
-- The row of what an entry says is the entry's own row, no longer its number.
CREATE INDEX run_bench ON run (bench);
UPDATE meta SET name = 'running-1 ' || (SELECT value FROM meta WHERE name = 'bench') WHERE name = 'running-1';

-- How far the copy of each bench is, at a hub; empty at a bench. A bench that went on from an older copy of itself has two
-- histories that share their beginning: the second is a line of its own, NAME~2, from where it parts from the first.
CREATE TABLE line (
    bench   TEXT    PRIMARY KEY, -- what its rows are kept under: NAME, NAME~2
    parent  TEXT    NOT NULL,    -- the line it parts from; '' for the first
    n       INTEGER NOT NULL,    -- the last entry it shares with that line
    seal    BLOB    NOT NULL CHECK (length(seal) = 32),
    shared  INTEGER NOT NULL,    -- how many results it shares with that line
    running BLOB    NOT NULL CHECK (length(running) = 32), -- the sum over those
    row     INTEGER NOT NULL,    -- the bench's own number of the last result that is here
    results INTEGER NOT NULL,    -- how many of its results there are, the shared ones too
    note    TEXT    NOT NULL,    -- what the bench signed last of where it ends
    machine TEXT    NOT NULL,    -- from which machine it comes
    at      INTEGER NOT NULL     -- µs since 1970, UTC, when something of it was taken last
) STRICT;
