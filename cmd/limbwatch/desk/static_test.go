package desk

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	jsImport = regexp.MustCompile(`(?m)^import (?:.* from )?"\./(\w+\.js)";`)
	jsTold   = regexp.MustCompile(`(?:^|[^.\w])(?:changed|on|set)\("([a-z ]+)"`)
	jsEvent  = regexp.MustCompile(`\b(\w+): "`)
)

// scripts are the page's modules by their names.
func scripts(t *testing.T) map[string]string {
	t.Helper()
	list, err := files.ReadDir("static")
	require.NoError(t, err)
	all := map[string]string{}
	for _, entry := range list {
		if strings.HasSuffix(entry.Name(), ".js") {
			text, err := files.ReadFile("static/" + entry.Name())
			require.NoError(t, err)
			all[entry.Name()] = string(text)
		}
	}
	require.Greater(t, len(all), 20)
	return all
}

// No module of the page imports itself through others.
func TestModulesImportOneWay(t *testing.T) {
	all := scripts(t)
	done := map[string]bool{}
	var visit func(way []string)
	visit = func(way []string) {
		name := way[len(way)-1]
		require.Contains(t, all, name, "imported by %v", way)
		for _, m := range jsImport.FindAllStringSubmatch(all[name], -1) {
			if slices.Contains(way, m[1]) {
				t.Fatalf("%v import one another in a circle, back to %s", way, m[1])
			}
			if !done[m[1]] {
				visit(append(slices.Clone(way), m[1]))
			}
		}
		done[name] = true
	}
	visit([]string{"main.js"})
	for name := range all {
		assert.True(t, done[name], "%s is imported by nothing", name)
	}
}

// Every event that is told or listened for stands in the list of them, and none else does.
func TestEventsStandInOnePlace(t *testing.T) {
	all := scripts(t)
	_, list, found := strings.Cut(all["store.js"], "const EVENTS = {")
	require.True(t, found)
	list, _, _ = strings.Cut(list, "};")
	listed := map[string]bool{}
	for _, m := range jsEvent.FindAllStringSubmatch(list, -1) {
		listed[m[1]] = false
	}
	for name, text := range all {
		for _, m := range jsTold.FindAllStringSubmatch(text, -1) {
			for _, event := range strings.Fields(m[1]) {
				_, known := listed[event]
				assert.True(t, known, "%s: event %s is in no list", name, event)
				listed[event] = true
			}
		}
	}
	for event, used := range listed {
		assert.True(t, used, "nobody listens for %s", event)
	}
}
