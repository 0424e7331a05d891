package exchange

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"
)

// LineError says which line of a file cannot be read, and why.
type LineError struct {
	Line int
	Err  error
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %v", e.Line, e.Err) }
func (e *LineError) Unwrap() error { return e.Err }

// maxLineBytes bounds a line: an outline of 20 000 vertices takes a megabyte.
const maxLineBytes = 16 << 20

// Read reads a record. Its ids count the things of a noun from 1, in the order of
// their lines, which may come in any order. Every thing is valid, and everything
// that is named is in the file. Errors: *LineError.
func Read(r io.Reader) (Record, error) {
	scanner := bufio.NewScanner(r)
	scanner.Buffer(make([]byte, 1<<16), maxLineBytes)
	var in reader
	in.places = map[uuid.UUID]place{}
	for line := 1; scanner.Scan(); line++ {
		text := bytes.TrimSpace(scanner.Bytes())
		if line == 1 {
			text = bytes.TrimPrefix(text, []byte("\uFEFF"))
		}
		if len(text) == 0 {
			continue
		}
		if err := in.line(text, line); err != nil {
			return Record{}, &LineError{line, err}
		}
	}
	if err := scanner.Err(); err != nil {
		return Record{}, err
	}
	if !in.begun {
		return Record{}, errors.New("empty file, want a first line that begins a record")
	}
	return in.record()
}

// reader gathers lines.
type reader struct {
	begun       bool
	places      map[uuid.UUID]place
	observers   []observerLine
	sites       []siteLine
	instruments []instrumentLine
	setups      []setupLine
	sittings    []sittingLine
	counts      []countLine
	frames      []frameLine
	discs       []discLine
	norths      []northLine
	marks       []markLine
	passages    []passageLine
	joins       []joinLine
	links       []linkLine
}

// place is where in the file a thing stands: the id it gets, and its line.
type place struct {
	noun string
	id   int64
	line int
}

func (in *reader) line(text []byte, number int) error {
	var h struct {
		Noun    string `json:"noun"`
		UUID    string `json:"uuid"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(text, &h); err != nil {
		return err
	}
	if !in.begun {
		if h.Noun != "record" {
			return fmt.Errorf("noun %q: want a first line that begins a record", h.Noun)
		}
		if h.Version > Version || h.Version < 1 {
			return fmt.Errorf("version %d of the format: this limbwatch reads up to %d", h.Version, Version)
		}
		in.begun = true
		return nil
	}
	switch h.Noun {
	case "observer":
		return add(in, text, number, &in.observers, func(l observerLine) head { return l.head })
	case "site":
		return add(in, text, number, &in.sites, func(l siteLine) head { return l.head })
	case "instrument":
		return add(in, text, number, &in.instruments, func(l instrumentLine) head { return l.head })
	case "setup":
		return add(in, text, number, &in.setups, func(l setupLine) head { return l.head })
	case "sitting":
		return add(in, text, number, &in.sittings, func(l sittingLine) head { return l.head })
	case "count":
		return add(in, text, number, &in.counts, func(l countLine) head { return l.head })
	case "frame":
		return add(in, text, number, &in.frames, func(l frameLine) head { return l.head })
	case "disc":
		return add(in, text, number, &in.discs, func(l discLine) head { return l.head })
	case "north":
		return add(in, text, number, &in.norths, func(l northLine) head { return l.head })
	case "mark":
		return add(in, text, number, &in.marks, func(l markLine) head { return l.head })
	case "passage":
		return add(in, text, number, &in.passages, func(l passageLine) head { return l.head })
	case "join":
		return add(in, text, number, &in.joins, func(l joinLine) head { return l.head })
	case "link":
		return add(in, text, number, &in.links, func(l linkLine) head { return l.head })
	}
	return fmt.Errorf("noun %q is not known", h.Noun)
}

// add reads one line and notes its place.
func add[L any](in *reader, text []byte, number int, lines *[]L, headOf func(L) head) error {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	var l L
	if err := decoder.Decode(&l); err != nil {
		return err
	}
	h := headOf(l)
	if h.UUID == uuid.Nil {
		return fmt.Errorf("%s without a uuid", h.Noun)
	}
	if twice, ok := in.places[h.UUID]; ok {
		return fmt.Errorf("uuid %s stands on line %d already", h.UUID, twice.line)
	}
	*lines = append(*lines, l)
	in.places[h.UUID] = place{h.Noun, int64(len(*lines)), number}
	return nil
}
