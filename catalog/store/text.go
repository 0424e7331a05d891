package store

import (
	"fmt"
	"time"

	"limbwatch/catalog/field"
	"limbwatch/coords"
)

// How values stand in the database: times as UTC text to the millisecond, angles
// in degrees, what is not known as NULL.

const dayLayout = "2006-01-02"

func instant(t time.Time) string { return field.InstantText(t) }

func parseInstant(text string) (time.Time, error) {
	t, err := field.ParseInstant(text)
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

func quoted(name string) string { return fmt.Sprintf("%q", name) }
