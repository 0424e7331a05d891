package exchange

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

// Write writes a record, written by program at an instant. The things of a noun stand
// in the order of their UUIDs, which is that in which they were made: the same record
// gives the same file, whatever catalogue it is in.
func Write(w io.Writer, r Record, program string, at time.Time) error {
	buffered := bufio.NewWriterSize(w, 1<<16)
	out := writer{out: buffered, names: map[string]map[int64]uuid.UUID{}}
	holds := things{}
	for _, n := range nouns {
		holds[n.name()] = n.count(&r)
		out.names[n.name()] = map[int64]uuid.UUID{}
		n.identify(&r, out.names[n.name()])
	}
	out.encode("record", recordLine{Noun: "record", Version: Version, Program: program, Written: at.UTC().Format(time.RFC3339), Things: holds})
	for _, n := range nouns {
		n.write(&out, &r)
	}
	out.encode("end", endLine{Noun: "end", Things: holds, SHA256: out.seal.sum()})
	if out.err != nil {
		return out.err
	}
	return buffered.Flush()
}

// writer writes lines; it keeps the first error.
//
//	names  the UUIDs behind the ids of a noun
type writer struct {
	out   io.Writer
	line  []byte
	names map[string]map[int64]uuid.UUID
	seal  seal
	err   error
}

func (w *writer) encode(noun string, line any) {
	text, err := json.Marshal(line)
	if err != nil && w.err == nil {
		w.err = err
	}
	w.put(noun, text)
}

func (w *writer) put(noun string, line []byte) {
	if w.err == nil {
		w.err = w.seal.add(noun, line)
	}
	if w.err == nil {
		_, w.err = w.out.Write(append(line, '\n'))
	}
}

func (n travelling[T, ID]) identify(r *Record, names map[int64]uuid.UUID) {
	for _, t := range *n.of(r) {
		id, record := n.Head(&t)
		names[int64(*id)] = record.UUID
	}
}

func (n travelling[T, ID]) write(w *writer, r *Record) {
	things := slices.Clone(*n.of(r))
	named := func(t T) uuid.UUID { _, record := n.Head(&t); return record.UUID }
	slices.SortFunc(things, func(a, b T) int {
		x, y := named(a), named(b)
		return bytes.Compare(x[:], y[:])
	})
	for _, t := range things {
		id, record := n.Head(&t)
		line := append(w.line[:0], `{"noun":"`...)
		line = append(line, n.Name...)
		line = append(line, `","uuid":"`...)
		line = append(line, record.UUID.String()...)
		line = appendFields(append(line, '"'), n.Fields, &t, w.names)
		if p, ok := r.Positions[catalog.MarkID(*id)]; ok && n.Name == field.Mark.Name {
			line = append(line, `,"derived":{`...)
			derived := appendFields(nil, field.Position, &p, nil)
			line = append(append(line, bytes.TrimPrefix(derived, []byte(","))...), '}')
		}
		w.line = append(line, '}')
		w.put(n.Name, w.line)
	}
}

// appendFields writes members of an object, each with a comma before it: what there is
// none of is left out, as are empty words and what is not so.
func appendFields[T any](line []byte, fields []field.Field[T], of *T, names map[string]map[int64]uuid.UUID) []byte {
	for _, f := range fields {
		value := f.Get(of)
		if value == nil || value == "" || f.Kind == field.Yes && value == int64(0) {
			continue
		}
		line = append(append(append(line, `,"`...), f.Name...), `":`...)
		switch f.Kind {
		case field.Figures:
			line = append(line, value.(string)...)
		case field.Ref:
			line = append(append(append(line, '"'), names[f.Refers][value.(int64)].String()...), '"')
		case field.Yes:
			line = append(line, "true"...)
		case field.Whole:
			line = appendCanonical(line, float64(value.(int64)))
		case field.Text:
			line = appendCanonicalText(line, strings.ToValidUTF8(value.(string), "\uFFFD"))
		default:
			line = appendCanonical(line, value)
		}
	}
	return line
}
