package exchange

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"

	"limbwatch/catalog/field"
)

// reading gathers the things of one noun.
type reading interface {
	add(in *reader, members map[string]json.RawMessage, name uuid.UUID, line int) error
	build(b *builder, r *Record)
}

// gathered are the things of a noun as they were read, and the UUIDs that they name.
type gathered[T valid, ID ~int64] struct {
	travelling[T, ID]
	formerly map[string]bool // objects of older versions
	things   []waiting[T]
}

// waiting is a thing whose references are not looked up yet: they stand in the order of
// its fields.
type waiting[T any] struct {
	thing T
	names []uuid.UUID
}

func (n travelling[T, ID]) begin() reading {
	g := &gathered[T, ID]{travelling: n, formerly: map[string]bool{}}
	for _, f := range n.Fields {
		for _, once := range f.Once {
			if object, _, inside := strings.Cut(once.Name, "."); inside {
				g.formerly[object] = true
			}
		}
	}
	return g
}

// add reads one line; its place says which id the thing has within the record.
func (g *gathered[T, ID]) add(in *reader, members map[string]json.RawMessage, name uuid.UUID, line int) error {
	old := in.version < flatFrom
	if old {
		var err error
		if members, err = g.flattened(members); err != nil {
			return err
		}
	}
	delete(members, "noun")
	delete(members, "uuid")
	if g.Name == field.Mark.Name {
		delete(members, "derived")
	}
	var w waiting[T]
	_, record := g.Head(&w.thing)
	record.UUID = name
	for _, f := range g.Fields {
		value, names, err := valueOf(f, members, old)
		if err == nil && f.Kind == field.Ref {
			w.names = append(w.names, names)
		} else if err == nil {
			err = f.Set(&w.thing, value)
		}
		if err != nil {
			return fmt.Errorf("%s of %s %s: %w", f.Name, g.Name, name, err)
		}
	}
	for unknown := range members {
		return fmt.Errorf("%s with an unknown field %q", g.Name, unknown)
	}
	g.things = append(g.things, w)
	in.places[name] = place{g.Name, int64(len(g.things)), line}
	return nil
}

// flattened takes the members out of objects that are none today.
func (g *gathered[T, ID]) flattened(members map[string]json.RawMessage) (map[string]json.RawMessage, error) {
	flat := make(map[string]json.RawMessage, len(members))
	for name, text := range members {
		if !g.formerly[name] || !bytes.HasPrefix(text, []byte("{")) {
			flat[name] = text
			continue
		}
		var inside map[string]json.RawMessage
		if err := json.Unmarshal(text, &inside); err != nil {
			return nil, err
		}
		for inner, text := range inside { // in small and capital letters alike: so the first version was read
			flat[name+"."+strings.ToLower(inner)] = text
		}
	}
	return flat, nil
}

// valueOf takes the value of a field out of a line's members; of one that names another
// thing, the UUID.
func valueOf[T any](f field.Field[T], members map[string]json.RawMessage, old bool) (value any, names uuid.UUID, err error) {
	text, there := members[f.Name]
	var once field.Former
	if there {
		delete(members, f.Name)
	} else if old {
		for _, former := range f.Once {
			name := former.Name
			if object, inner, inside := strings.Cut(name, "."); inside {
				name = object + "." + strings.ToLower(inner)
			}
			if text, there = members[name]; there {
				delete(members, name)
				once = former
				break
			}
		}
	}
	if !there || string(text) == "null" {
		return nil, names, nil
	}
	switch f.Kind {
	case field.Text:
		value, err = parsed[string](text, "a text")
	case field.Number:
		value, err = parsed[float64](text, "a number")
	case field.Whole:
		value, err = parsed[int64](text, "a whole number")
	case field.Yes:
		var yes bool
		yes, err = parsed[bool](text, "true or false")
		value = int64(0)
		if yes {
			value = int64(1)
		}
	case field.Ref:
		names, err = parsed[uuid.UUID](text, "a uuid")
	case field.Figures:
		value = string(text)
	}
	return once.Today(value), names, err
}

func parsed[V any](text json.RawMessage, want string) (v V, err error) {
	if err := json.Unmarshal(text, &v); err != nil {
		return v, fmt.Errorf("%.60s: want %s", text, want)
	}
	return v, nil
}

// record turns the things that were gathered into a record, whose ids are their places.
func (in *reader) record() (Record, error) {
	for {
		b, r := builder{in: in}, Record{}
		for _, n := range nouns {
			in.read[n.name()].build(&b, &r)
		}
		if b.err != nil {
			return Record{}, b.err
		}
		if !b.lost { // else something may name what was left out behind it
			return r, nil
		}
	}
}

// builder keeps the first error.
//
//	lost  things were left out that name something which a partial record lacks
type builder struct {
	in   *reader
	err  error
	lost bool
}

func (b *builder) fail(name uuid.UUID, err error) {
	if b.err == nil && err != nil {
		p := b.in.places[name]
		b.err = &LineError{p.line, fmt.Errorf("%s %s: %w", p.noun, name, err)}
	}
}

func (g *gathered[T, ID]) build(b *builder, r *Record) {
	var built []T
	for _, w := range g.things {
		thing := w.thing
		id, record := g.Head(&thing)
		p, there := b.in.places[record.UUID]
		if !there || b.err != nil {
			continue // left out before
		}
		lacking := false
		names := w.names
		for _, f := range g.Fields {
			if f.Kind != field.Ref {
				continue
			}
			other, known := b.other(record.UUID, f.Refers, names[0])
			lacking = lacking || !known
			names = names[1:]
			if other != 0 {
				b.fail(record.UUID, f.Set(&thing, other))
			}
		}
		if lacking {
			delete(b.in.places, record.UUID)
			b.in.leftOut[p.noun]++
			b.lost = true
			continue
		}
		*id = ID(p.id)
		b.fail(record.UUID, thing.Validate())
		built = append(built, thing)
	}
	*g.of(r) = built
}

// other is the id of something that a thing names, 0 for nothing; not known when a partial
// record lacks it.
func (b *builder) other(by uuid.UUID, noun string, name uuid.UUID) (id int64, known bool) {
	if name == uuid.Nil {
		return 0, true
	}
	p, ok := b.in.places[name]
	switch {
	case !ok && b.in.partial:
		return 0, false
	case !ok:
		b.fail(by, fmt.Errorf("names %s %s, which is not in the file", noun, name))
	case p.noun != noun:
		b.fail(by, fmt.Errorf("names %s as a %s, which is a %s on line %d", name, noun, p.noun, p.line))
	}
	return p.id, true
}
