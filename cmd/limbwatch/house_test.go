package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layers lists what each package may import of this module. Dependencies point
// one way, cmd → catalog → coords; within coords an import goes down a layer.
var layers = map[string][]string{
	"coords":               {},
	"coords/timescale":     {},
	"coords/sample":        {},
	"coords/figure":        {},
	"coords/ephemeris":     {"coords", "coords/timescale", "coords/ephemeris/*"},
	"coords/rotation":      {"coords", "coords/ephemeris"},
	"coords/plainfile":     {},
	"coords/picture":       {"coords", "coords/picture/*", "coords/plainfile"},
	"coords/limb":          {"coords", "coords/picture", "coords/ephemeris", "coords/sample"},
	"coords/disc":          {"coords", "coords/ephemeris", "coords/rotation"},
	"coords/north":         {"coords", "coords/disc", "coords/limb", "coords/picture", "coords/ephemeris", "coords/rotation", "coords/sample"},
	"coords/paint":         {"coords", "coords/disc", "coords/limb", "coords/picture", "coords/ephemeris", "coords/rotation", "coords/sample"},
	"catalog":              {"coords"},
	"catalog/field":        {"catalog", "catalog/measure", "coords", "coords/timescale"},
	"catalog/follow":       {"catalog", "coords", "coords/*"},
	"catalog/measure":      {"catalog", "coords", "coords/*"},
	"catalog/chart":        {"catalog", "catalog/chart/*", "catalog/follow", "catalog/measure", "coords", "coords/*"},
	"catalog/chart/*":      {},
	"catalog/report":       {"catalog", "catalog/field", "catalog/exchange", "catalog/follow", "catalog/measure", "catalog/chart", "catalog/chart/*", "coords", "coords/*"},
	"catalog/wholefile":    {},
	"catalog/store":        {"catalog", "catalog/field", "catalog/wholefile", "coords", "coords/*", "migrations"},
	"catalog/read":         {"catalog", "catalog/store", "coords", "coords/*"},
	"catalog/observe":      {"catalog", "catalog/field", "catalog/store", "catalog/follow", "catalog/measure", "catalog/exchange", "catalog/wholefile", "coords", "coords/*", "coords/picture/*"},
	"catalog/exchange":     {"catalog", "catalog/field", "coords", "coords/timescale"},
	"catalog/gather":       {"catalog", "catalog/*", "coords", "coords/*"},
	"migrations":           {},
	"cmd/limbwatch":        {"catalog", "catalog/*", "catalog/chart/*", "coords", "coords/*", "coords/picture/*", "cmd/limbwatch/*"},
	"cmd/limbwatch/desk":   {"catalog", "catalog/*", "catalog/chart/*", "coords", "coords/*", "coords/picture/*"},
	"coords/picture/*":     {"coords", "coords/timescale", "coords/picture/*"},
	"coords/ephemeris/*":   {"coords"},
	"catalog/observe/*":    {"catalog", "catalog/*", "coords", "coords/*"},
	"cmd/limbwatch/desk/*": {"catalog", "catalog/*", "coords", "coords/*", "cmd/limbwatch/desk"},
}

func matchesAny(patterns []string, name string) bool {
	for _, p := range patterns {
		if ok, _ := path.Match(p, name); ok {
			return true
		}
	}
	return false
}

func TestImportsPointOneWay(t *testing.T) {
	root := filepath.Join("..", "..")
	files := 0
	err := filepath.WalkDir(root, func(file string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := entry.Name()
		if entry.IsDir() && (name == ".git" || name == "testdata") {
			return filepath.SkipDir
		}
		if entry.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		files++
		rel, err := filepath.Rel(root, filepath.Dir(file))
		require.NoError(t, err)
		pkg := filepath.ToSlash(rel)
		allowed, known := layers[pkg]
		for pattern := range layers {
			if ok, _ := path.Match(pattern, pkg); ok && !known {
				allowed, known = layers[pattern], true
			}
		}
		require.Truef(t, known, "package %s has no place in the list of layers: give it one", pkg)
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		require.NoError(t, err)
		for _, imp := range parsed.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			if name == "database/sql" && pkg != "catalog/store" {
				t.Errorf("%s imports database/sql; only catalog/store may", file)
			}
			if ours, ok := strings.CutPrefix(name, "limbwatch/"); ok && !matchesAny(allowed, ours) {
				t.Errorf("%s imports %s, which lies above or beside %s; allowed: %v", file, ours, pkg, allowed)
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, files, 20, "the walk found the sources")
}
