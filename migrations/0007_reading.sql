-- Indexes for what a screen or a list asks, so that it costs the same in a record of many
-- years as in one of a week.

-- +goose Up

-- One's own pictures in the order of time: the days that can be opened.
CREATE INDEX frames_pictured ON frames (middle_utc) WHERE removed = 0 AND reference = 0 AND sha256 IS NOT NULL;
