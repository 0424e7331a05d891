-- A name that a passage once had leads to it still, and the program gives it to no other.

-- +goose Up

-- Derived: every name that a passage has or had.
CREATE TABLE passage_names (
    name       TEXT    NOT NULL,
    passage_id INTEGER NOT NULL REFERENCES passages (id),
    PRIMARY KEY (name, passage_id)
) STRICT, WITHOUT ROWID;

INSERT INTO passage_names SELECT name, id FROM passages;

-- +goose StatementBegin
CREATE TRIGGER passages_begin AFTER INSERT ON passages
BEGIN
    INSERT INTO passage_names VALUES (NEW.name, NEW.id);
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER passages_rename AFTER UPDATE OF name ON passages
BEGIN
    INSERT OR IGNORE INTO passage_names VALUES (NEW.name, NEW.id);
END;
-- +goose StatementEnd

DROP INDEX passages_named;
