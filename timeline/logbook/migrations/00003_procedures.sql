-- +goose Up
-- The procedures that were asked for, as JSON; '' when those flown are to be found.
ALTER TABLE lessons ADD COLUMN procedures TEXT NOT NULL DEFAULT '';
-- Which program listens to a lesson that waits, and until when that is believed.
ALTER TABLE lessons ADD COLUMN listener TEXT NOT NULL DEFAULT '';
ALTER TABLE lessons ADD COLUMN listening_until TEXT NOT NULL DEFAULT ''; -- RFC 3339, UTC

-- +goose Down
ALTER TABLE lessons DROP COLUMN procedures;
ALTER TABLE lessons DROP COLUMN listener;
ALTER TABLE lessons DROP COLUMN listening_until;
