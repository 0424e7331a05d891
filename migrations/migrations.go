// Package migrations holds the numbered SQL files that make a catalogue, or
// bring an older one up to date. They run forward only, each in its own
// transaction, and are never edited once released.
package migrations

import "embed"

// FS holds the files, named 0001_….sql and on.
//
//go:embed *.sql
var FS embed.FS
