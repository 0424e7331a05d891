// Package catalog holds the nouns of an observer's record: observers, sites,
// instruments, sittings, frames, discs, marks and passages. It knows no SQL, no
// HTTP and no files.
package catalog
