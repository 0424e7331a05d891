-- Counts on paper: what an observer counted at a sitting without marking it, one row
-- a sitting and what was counted. They stand beside the marks; a daily table takes
-- the count where there is one.

-- +goose Up
CREATE TABLE counts (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    sitting_id   INTEGER NOT NULL REFERENCES sittings (id),
    tally        TEXT    NOT NULL CHECK (tally IN ('groups', 'spots', 'plages', 'filaments', 'prominences', 'elements')),
    north        INTEGER CHECK (north >= 0), -- of the solar equator; NULL with the next: not told apart
    south        INTEGER CHECK (south >= 0),
    total        INTEGER NOT NULL CHECK (total >= coalesce(north, 0) + coalesce(south, 0)),
    CHECK ((north IS NULL) = (south IS NULL))
) STRICT;

CREATE UNIQUE INDEX counts_by_sitting ON counts (sitting_id, tally) WHERE removed = 0;
