package store

import "github.com/mattn/go-sqlite3"

// SQLiteVersion is the version of the SQLite in this program, as 3.46.0.
func SQLiteVersion() string {
	version, _, _ := sqlite3.Version()
	return version
}
