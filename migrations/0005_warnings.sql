-- What seemed odd about a picture stays with it until a person has settled it; and how
-- far a north found by comparing pictures shares its error with those it came from.

-- +goose Up

-- One thing that is odd about one frame. What can be worked out anew (the Sun below the
-- horizon, a disc of another size, norths that contradict each other) is put right by the
-- program in the operation that changes it; what a person settled stays as it was said.
CREATE TABLE warnings (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    uuid         BLOB    NOT NULL UNIQUE CHECK (length(uuid) = 16),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    operation_id INTEGER NOT NULL,
    removed      INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
    frame_id     INTEGER NOT NULL REFERENCES frames (id),
    cause        TEXT    NOT NULL CHECK (cause IN ('file', 'horizon', 'limb', 'size', 'north')),
    words        TEXT    NOT NULL CHECK (words <> ''),
    basis        TEXT    NOT NULL, -- the figures it rests on: with others it is another warning
    settled_utc  TEXT    CHECK (settled_utc IS strftime('%Y-%m-%dT%H:%M:%fZ', settled_utc)), -- NULL: not settled
    settled_why  TEXT    NOT NULL DEFAULT '',
    observer_id  INTEGER REFERENCES observers (id), -- who settled it
    CHECK (settled_utc IS NOT NULL OR (settled_why = '' AND observer_id IS NULL))
) STRICT;

CREATE UNIQUE INDEX warnings_by_frame ON warnings (frame_id, cause, basis) WHERE removed = 0;
CREATE INDEX warnings_open ON warnings (frame_id) WHERE removed = 0 AND settled_utc IS NULL;

-- Derived: with which norths and discs a frame's picture was last held against its
-- neighbours', so that it is not done again for nothing.
CREATE TABLE norths_compared (
    frame_id INTEGER PRIMARY KEY REFERENCES frames (id),
    basis    TEXT NOT NULL
) STRICT;

-- The part of sigma_deg that matching on from this frame repeats; negative when it came
-- of going back in time.
ALTER TABLE norths ADD COLUMN lasting_deg REAL CHECK (abs(lasting_deg) <= sigma_deg);
