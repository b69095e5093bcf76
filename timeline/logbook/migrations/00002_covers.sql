-- +goose Up
-- What the cover said at first, as JSON; '' while nobody put it right. The columns
-- beside it say what it says now.
ALTER TABLE lessons ADD COLUMN given TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE lessons DROP COLUMN given;
