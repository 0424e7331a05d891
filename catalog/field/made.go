package field

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/timescale"
)

// The makers of fields: each takes where in the noun the value is, from which both
// reading and setting follow. With …OrNone the zero of the noun means that there is none.

// as takes a value of a type; none gives its zero.
func as[V any](value any) (v V, err error) {
	if value == nil {
		return v, nil
	}
	v, ok := value.(V)
	if !ok {
		return v, fmt.Errorf("%v is no %T", value, v)
	}
	return v, nil
}

func asNumber(value any) (float64, error) {
	if n, ok := value.(int64); ok {
		return float64(n), nil
	}
	return as[float64](value)
}

func orNone[V comparable](v V) any {
	var zero V
	if v == zero {
		return nil
	}
	return v
}

func words[T any](name, about string, at func(*T) *string) Field[T] {
	return Field[T]{Name: name, About: about, Kind: Text,
		Get: func(t *T) any { return *at(t) },
		Set: func(t *T, value any) (err error) { *at(t), err = as[string](value); return err }}
}

func wordsOrNone[T any](name, about string, at func(*T) *string) Field[T] {
	f := words(name, about, at)
	f.Get = func(t *T) any { return orNone(*at(t)) }
	return f
}

func number[T any](name, unit, about string, at func(*T) *float64) Field[T] {
	return Field[T]{Name: name, Unit: unit, About: about, Kind: Number,
		Get: func(t *T) any { return *at(t) },
		Set: func(t *T, value any) (err error) { *at(t), err = asNumber(value); return err }}
}

func numberOrNone[T any](name, unit, about string, at func(*T) *float64) Field[T] {
	f := number(name, unit, about, at)
	f.Get = func(t *T) any { return orNone(*at(t)) }
	return f
}

// km is a height or length on the Sun that the noun has in megametres.
func km[T any](name, about string, atMm func(*T) *float64) Field[T] {
	return Field[T]{Name: name, Unit: "km", UCD: "phys.size", About: about, Kind: Number,
		Get: func(t *T) any { return kmOfMm(*atMm(t)) },
		Set: func(t *T, value any) error {
			v, err := asNumber(value)
			*atMm(t) = v / kmInMm
			return err
		}}
}

// maybe is a number behind a pointer, nil when there is none.
func maybe[T any](name, unit, about string, at func(*T) **float64) Field[T] {
	return Field[T]{Name: name, Unit: unit, About: about, Kind: Number,
		Get: func(t *T) any {
			if n := *at(t); n != nil {
				return *n
			}
			return nil
		},
		Set: func(t *T, value any) error {
			n, err := asNumber(value)
			*at(t) = nil
			if value != nil && err == nil {
				*at(t) = &n
			}
			return err
		}}
}

// degrees is an angle, as the number of degrees that gives it again to the last bit.
func degrees[T any](name, about string, at func(*T) *coords.Angle) Field[T] {
	return Field[T]{Name: name, Unit: "deg", About: about, Kind: Number,
		Get: func(t *T) any { return at(t).ExactDegrees() },
		Set: func(t *T, value any) error {
			deg, err := asNumber(value)
			*at(t) = coords.Angle(deg) * coords.Degree
			return err
		}}
}

func degreesOrNone[T any](name, about string, at func(*T) *coords.Angle) Field[T] {
	f := degrees(name, about, at)
	f.Get = func(t *T) any {
		if *at(t) == 0 {
			return nil
		}
		return at(t).ExactDegrees()
	}
	return f
}

func whole[T any](name, unit, about string, at func(*T) *int) Field[T] {
	return Field[T]{Name: name, Unit: unit, About: about, Kind: Whole,
		Get: func(t *T) any { return int64(*at(t)) },
		Set: func(t *T, value any) error {
			n, err := as[int64](value)
			*at(t) = int(n)
			return err
		}}
}

func wholeOrNone[T any](name, unit, about string, at func(*T) *int) Field[T] {
	f := whole(name, unit, about, at)
	f.Get = func(t *T) any { return orNone(int64(*at(t))) }
	return f
}

func yes[T any](name, about string, at func(*T) *bool) Field[T] {
	return Field[T]{Name: name, About: about, Kind: Yes,
		Get: func(t *T) any {
			if *at(t) {
				return int64(1)
			}
			return int64(0)
		},
		Set: func(t *T, value any) error {
			n, err := as[int64](value)
			*at(t) = n != 0
			return err
		}}
}

// one is one of some names; parse refuses what is none of them.
func one[T any, W fmt.Stringer](name, about string, at func(*T) *W, parse func(string) (W, error)) Field[T] {
	return Field[T]{Name: name, About: about, Kind: Text,
		Get: func(t *T) any { return (*at(t)).String() },
		Set: func(t *T, value any) error {
			text, err := as[string](value)
			if err != nil {
				return err
			}
			*at(t), err = parse(text)
			return err
		}}
}

// oneOrNone is one of some names or none, which is spelt as an empty one.
func oneOrNone[T any, W fmt.Stringer](name, about string, at func(*T) *W, parse func(string) (W, error)) Field[T] {
	f := one(name, about, at, parse)
	f.Get = func(t *T) any { return orNone((*at(t)).String()) }
	return f
}

// ref is the id of another thing, or none.
func ref[T any, ID ~int64](name, noun, about string, at func(*T) *ID) Field[T] {
	return Field[T]{Name: name, About: about, Kind: Ref, Refers: noun,
		Get: func(t *T) any { return orNone(int64(*at(t))) },
		Set: func(t *T, value any) error {
			id, err := as[int64](value)
			*at(t) = ID(id)
			return err
		}}
}

// instant is a time in UTC to the millisecond.
func instant[T any](name, about string, at func(*T) *time.Time) Field[T] {
	return Field[T]{Name: name, About: about, Kind: Text,
		Get: func(t *T) any { return InstantText(*at(t)) },
		Set: func(t *T, value any) error {
			text, err := as[string](value)
			if err == nil {
				*at(t), err = ParseInstant(text)
			}
			return err
		}}
}

const instantLayout = "2006-01-02T15:04:05.000Z"

// InstantText is how an instant is written: UTC, to the millisecond, ending in Z. Texts
// of that form stand in the order of time.
func InstantText(t time.Time) string {
	return t.UTC().Round(time.Millisecond).Format(instantLayout)
}

// ParseInstant reads an instant that ends in Z, with fewer or more digits too.
func ParseInstant(text string) (time.Time, error) {
	if t, err := time.Parse(instantLayout, text); err == nil {
		return t, nil
	}
	clock, hasTime, behind, err := timescale.ParseClock(text)
	if err != nil {
		return time.Time{}, err
	}
	if !hasTime || behind != "Z" {
		return time.Time{}, fmt.Errorf("time %q: want a day and a time of day that end in Z", text)
	}
	t, err := clock.At(0)
	return t.Round(time.Millisecond), err
}

// figures are several at once, in JSON; none is how nothing is told from something.
func figures[T, V any](name, about string, at func(*T) *V, none func(V) bool) Field[T] {
	return Field[T]{Name: name, About: about, Kind: Figures,
		Get: func(t *T) any {
			if none(*at(t)) {
				return nil
			}
			text, _ := json.Marshal(*at(t)) // finite: Validate has seen them
			return string(text)
		},
		Set: func(t *T, value any) error {
			text, err := as[string](value)
			if err != nil || text == "" {
				return err
			}
			if err := json.Unmarshal([]byte(text), at(t)); err != nil {
				return fmt.Errorf("%.40q: %w", text, err)
			}
			return nil
		}}
}

// heightOf are the two fields of a height above the photosphere and its error, of what may
// have none; before ends the names that they had.
func heightOf[T any](name, about string, at func(*T) **coords.Layer, before [2][]Former) []Field[T] {
	height := Field[T]{Name: name + "_km", Unit: "km", UCD: "phys.size", About: about, Kind: Number, Once: before[0],
		Get: func(t *T) any {
			if l := *at(t); l != nil {
				return kmOfMm(l.HeightMm)
			}
			return nil
		},
		Set: func(t *T, value any) error {
			*at(t) = nil
			km, err := asNumber(value)
			if value != nil && err == nil {
				*at(t) = &coords.Layer{HeightMm: km / kmInMm}
			}
			return err
		}}
	sigma := Field[T]{Name: "sigma_" + name + "_km", Unit: "km", UCD: "stat.error;phys.size", About: "standard error of " + height.Name, Kind: Number, Once: before[1],
		Get: func(t *T) any {
			if l := *at(t); l != nil {
				return kmOfMm(l.SigmaMm)
			}
			return nil
		},
		Set: func(t *T, value any) error {
			km, err := asNumber(value)
			switch l := *at(t); {
			case l != nil:
				l.SigmaMm = km / kmInMm
			case value != nil && err == nil:
				return fmt.Errorf("an error without %s", height.Name)
			}
			return err
		}}
	return []Field[T]{height, sigma}
}

// inMm are the former names of a height and its error, from when they were written in
// megametres: as columns, and in an object of the record.
func inMm(column, sigmaColumn, object string) [2][]Former {
	return [2][]Former{
		{{column, kmInMm}, {object + ".height_Mm", kmInMm}},
		{{sigmaColumn, kmInMm}, {object + ".sigma_Mm", kmInMm}},
	}
}

// once adds names that a field had before.
func (f Field[T]) once(before ...Former) Field[T] {
	f.Once = append(f.Once, before...)
	return f
}

// ucd says what kind of quantity it is.
func (f Field[T]) ucd(ucd string) Field[T] {
	f.UCD = ucd
	return f
}

// kmInMm is how many kilometres are in a megametre. Heights and lengths on the Sun are
// written in kilometres: _mm would be millimetres, and _Mm differs from it by case alone,
// which databases fold.
const kmInMm = 1000.0

// kmOfMm gives the number of kilometres that gives the megametres again: to the last bit
// where there is such a number, as for all that people write, else to the bit before. What
// is read again is written again alike.
func kmOfMm(mm float64) float64 {
	km, exact := exactKm(mm)
	if !exact {
		km, _ = exactKm(km / kmInMm)
	}
	return km
}

func exactKm(mm float64) (km float64, exact bool) {
	km = mm * kmInMm
	for _, candidate := range []float64{math.Round(km*1e6) / 1e6, km, math.Nextafter(km, math.Inf(1)), math.Nextafter(km, math.Inf(-1))} {
		if candidate/kmInMm == mm {
			return candidate, true
		}
	}
	return km, false
}
