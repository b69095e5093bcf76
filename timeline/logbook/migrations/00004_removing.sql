-- +goose Up
-- A number is never given twice: a page that is still open means the lesson it shows.
CREATE TABLE removed (
    id INTEGER PRIMARY KEY                    -- of a lesson that was here
);

-- Facts go only with their whole lesson.
DROP TRIGGER facts_stay;
-- +goose StatementBegin
CREATE TRIGGER facts_stay BEFORE DELETE ON facts WHEN EXISTS (SELECT 1 FROM lessons WHERE id = OLD.lesson)
BEGIN SELECT RAISE(ABORT, 'facts are never deleted'); END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER facts_stay;
-- +goose StatementBegin
CREATE TRIGGER facts_stay BEFORE DELETE ON facts
BEGIN SELECT RAISE(ABORT, 'facts are never deleted'); END;
-- +goose StatementEnd
DROP TABLE removed;
