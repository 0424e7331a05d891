-- What following has to look at again is found without looking at everything.

-- +goose Up

-- Derived: the instants at which something that following sees has changed since it
-- was followed: a mark came, went or moved, or was joined by someone's word.
CREATE TABLE unfollowed (
    utc TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

INSERT OR IGNORE INTO unfollowed
SELECT p.utc FROM positions p
LEFT JOIN joins j ON j.mark_id = p.mark_id AND j.removed = 0 AND j.state = 'made'
LEFT JOIN passages pa ON pa.id = j.passage_id
WHERE j.id IS NULL OR pa.stale = 1;

-- The last mark that the habits were learnt from: they are learnt anew when the record
-- has grown by much.
ALTER TABLE habits ADD COLUMN last_mark INTEGER NOT NULL DEFAULT 0;
