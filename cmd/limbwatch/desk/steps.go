package desk

import (
	"fmt"
	"strings"
)

// The history names a step as the command that takes it, "mark remove M6". steps says
// what that is to an observer; the rest of the title, the ids, takes the place of %s.
var steps = []struct{ title, words string }{
	{"mark add", "marking %s"},
	{"mark edit", "the change of %s"},
	{"mark remove", "the removal of %s"},
	{"frame add", "adding picture %s"},
	{"frame edit", "the change of picture %s"},
	{"frame remove", "the removal of picture %s"},
	{"disc accept", "the yes to the disc of %s"},
	{"disc remove", "the refusal of the disc of %s"},
	{"disc fit", "the disc of %s"},
	{"disc set", "the disc of %s"},
	{"disc points", "the disc of %s"},
	{"north", "the north of %s"},
	{"track follow", "following%s"},
	{"track join", "joining %s"},
	{"track split", "splitting %s"},
	{"track begin", "the passage of its own, %s"},
}

// stepWords words a step of the history; one without words keeps its title.
func stepWords(title string) string {
	for _, step := range steps {
		rest, found := strings.CutPrefix(title, step.title)
		if !found {
			continue
		}
		rest = strings.TrimSpace(rest)
		if step.title == "north" { // the way stands between: "north as last time F2"
			rest = rest[strings.LastIndexByte(rest, ' ')+1:]
		}
		return strings.TrimSpace(fmt.Sprintf(step.words, rest))
	}
	return title
}
