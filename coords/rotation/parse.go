package rotation

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Parse reads a law from what an observer typed: the name of a published law
// ("newton-nunn"; "rigid" is another word for "carrington"), a tracer for its
// usual law ("filament"), or the coefficients in degrees a day, sidereal, the
// last one or two of which may be left out ("14.5,-2.4,-1", "14.5,-2.4").
func Parse(text string) (Law, error) {
	text = strings.TrimSpace(text)
	name := strings.ToLower(text)
	if name == "rigid" {
		name = "carrington"
	}
	for _, l := range published {
		if l.Name == name {
			return l, nil
		}
	}
	if prior, ok := priors[name]; ok {
		return prior.Law, nil
	}
	if !strings.ContainsAny(text, "0123456789") {
		return Law{}, fmt.Errorf("rotation law %q: want A,B,C in degrees a day or one of %s, or a kind, as filament, for its usual law", text, strings.Join(names(), ", "))
	}
	return parseCoefficients(text)
}

// parseCoefficients reads "A,B,C".
func parseCoefficients(text string) (Law, error) {
	field := strings.Split(text, ",")
	if len(field) > 3 {
		return Law{}, fmt.Errorf("rotation law %q: %d coefficients, at most 3 are wanted", text, len(field))
	}
	var c [3]float64
	for i, f := range field {
		v, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return Law{}, fmt.Errorf("rotation law %q: coefficient %q is not a number", text, strings.TrimSpace(f))
		}
		c[i] = v
	}
	l := Law{Name: text, Source: "typed", A: c[0], B: c[1], C: c[2]}
	// Nothing on the Sun turns outside these rates; a synodic or a µrad/s law does.
	const slowest, fastest = 13.6, 15.5
	if l.A < slowest || l.A > fastest {
		return Law{}, fmt.Errorf("rotation law %q: %g° a day at the equator, sidereal rates lie in %g to %g", text, l.A, slowest, fastest)
	}
	if pole := l.A + l.B + l.C; pole < 5 || pole > fastest {
		return Law{}, fmt.Errorf("rotation law %q: %.4g° a day at the pole, want 5 to %g", text, pole, fastest)
	}
	return l, nil
}

// names lists the published laws.
func names() []string {
	all := make([]string, 0, len(published))
	for _, l := range published {
		all = append(all, l.Name)
	}
	return all
}
