package logbook

// Pretend makes a logbook one of another version.
func Pretend(b *Book, version int) error {
	_, err := b.db.Exec(`INSERT INTO goose_db_version (version_id, is_applied) VALUES (?, 1)`, version)
	return err
}

// Tamper tries to change what may not be changed.
func Tamper(b *Book, statement string) error {
	_, err := b.db.Exec(statement)
	return err
}
