-- +goose Up
CREATE TABLE lessons (
    id         INTEGER PRIMARY KEY,
    uid        TEXT NOT NULL UNIQUE,          -- the same on every machine it is handed to
    added      TEXT NOT NULL,                 -- RFC 3339, UTC
    title      TEXT NOT NULL,
    flown      TEXT NOT NULL,                 -- 2026-05-01, '' when unknown
    student    TEXT NOT NULL,
    instructor TEXT NOT NULL,
    aircraft   TEXT NOT NULL,                 -- id of a built-in one, or the name in source
    source     TEXT NOT NULL,                 -- the aircraft's own YAML, '' for a built-in one
    stage      TEXT NOT NULL,                 -- waiting, heard, failed
    trouble    TEXT NOT NULL,                 -- why it could not be heard
    duration   REAL NOT NULL,                 -- seconds
    maneuvers  TEXT NOT NULL,                 -- titles, as JSON: for the list
    result     TEXT NOT NULL,                 -- one line: for the list
    digest     TEXT NOT NULL                  -- of the recording's files in order, '' without
);
CREATE INDEX lessons_by_digest ON lessons (digest);

-- What the machine said: written once.
CREATE TABLE hearings (
    lesson  INTEGER PRIMARY KEY REFERENCES lessons (id),
    machine BLOB NOT NULL,                    -- gzipped JSON
    peaks   BLOB NOT NULL                     -- gzipped JSON
);

CREATE TABLE recordings (
    lesson INTEGER NOT NULL REFERENCES lessons (id),
    n      INTEGER NOT NULL,                  -- from 0, in the order recorded
    name   TEXT NOT NULL,                     -- as the user knows it
    path   TEXT NOT NULL,                     -- where it was last seen, '' for nowhere
    size   INTEGER NOT NULL,
    digest TEXT NOT NULL,
    PRIMARY KEY (lesson, n)
);

-- What people said: appended, never changed.
CREATE TABLE facts (
    lesson  INTEGER NOT NULL REFERENCES lessons (id),
    n       INTEGER NOT NULL,                 -- from 1
    key     TEXT NOT NULL,
    kind    TEXT NOT NULL,
    author  TEXT NOT NULL,
    written TEXT NOT NULL,                    -- RFC 3339, UTC
    body    TEXT NOT NULL,                    -- JSON
    PRIMARY KEY (lesson, n),
    UNIQUE (lesson, key)
);

-- +goose StatementBegin
CREATE TRIGGER facts_stay_as_written BEFORE UPDATE ON facts
BEGIN SELECT RAISE(ABORT, 'facts are never changed'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER facts_stay BEFORE DELETE ON facts
BEGIN SELECT RAISE(ABORT, 'facts are never deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER hearings_stay_as_written BEFORE UPDATE ON hearings
BEGIN SELECT RAISE(ABORT, 'what the machine said is never changed'); END;
-- +goose StatementEnd

-- +goose Down
DROP TABLE facts;
DROP TABLE recordings;
DROP TABLE hearings;
DROP TABLE lessons;
