package store

import (
	"database/sql"
	"fmt"
	"time"

	"limbwatch/coords"
)

// How values stand in the database: times as UTC text to the millisecond, angles
// in degrees, what is not known as NULL.

const (
	instantLayout = "2006-01-02T15:04:05.000Z"
	dayLayout     = "2006-01-02"
)

func instant(t time.Time) string {
	return t.UTC().Round(time.Millisecond).Format(instantLayout)
}

func parseInstant(text string) (time.Time, error) {
	t, err := time.Parse(instantLayout, text)
	if err != nil {
		return time.Time{}, fmt.Errorf("time %q in the catalogue: %w", text, err)
	}
	return t, nil
}

func angle(deg float64) coords.Angle { return coords.Angle(deg) * coords.Degree }

// orNull gives NULL for the zero value.
func orNull[T comparable](v T) any {
	var zero T
	if v == zero {
		return nil
	}
	return v
}

// orNullID is orNull for ids, whose types the driver does not know.
func orNullID[T ~int64](id T) any { return orNull(int64(id)) }

func orNullDegrees(a coords.Angle) any {
	if a == 0 {
		return nil
	}
	return a.ExactDegrees()
}

// layerOrNull gives the two columns of a height that may be missing.
func layerOrNull(l *coords.Layer) (heightMm, sigmaMm any) {
	if l == nil {
		return nil, nil
	}
	return l.HeightMm, l.SigmaMm
}

// nullLayer scans them.
type nullLayer struct{ height, sigma sql.Null[float64] }

func (n nullLayer) layer() *coords.Layer {
	if !n.height.Valid {
		return nil
	}
	return &coords.Layer{HeightMm: n.height.V, SigmaMm: n.sigma.V}
}

// flag is how a yes or no stands in the database.
func flag(yes bool) int64 {
	if yes {
		return 1
	}
	return 0
}

func quoted(name string) string { return fmt.Sprintf("%q", name) }
