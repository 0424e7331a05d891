package store

import "path/filepath"

// Companions are the files that belong to the catalogue at path, whether they are there
// just now or not: the file itself, what SQLite keeps beside it, the lock, what names
// the WAL's owner, and the copies from before a migration.
func Companions(path string) []string {
	list := []string{path, ownerPath(path)}
	for _, ending := range []string{"-wal", "-shm", "-journal", ".lock"} {
		list = append(list, path+ending)
	}
	folder, name := filepath.Split(path)
	copies, _ := filepath.Glob(filepath.Join(globEscaped(folder), globEscaped(name)+".schema*.backup"))
	return append(list, copies...)
}

// globEscaped is a text that a pattern matches as it stands.
func globEscaped(text string) string {
	var out []rune
	for _, c := range text {
		switch c {
		case '*', '?', '[':
			out = append(out, '[', c, ']')
		default:
			out = append(out, c)
		}
	}
	return string(out)
}
