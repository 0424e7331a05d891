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

// maxBytes bounds a whole record, which is held in memory: a million marks take some
// 350 MB.
const maxBytes = 400 << 20

// Read reads a record that is whole, as far as its file tells. Its ids count the things
// of a noun from 1, in the order of their lines, which may come in any order between the
// first and the last. Every thing is valid, and everything that is named is in the file.
// Errors: *LineError, *NotWholeError.
func Read(r io.Reader) (Record, Wholeness, error) { return read(r, false) }

// ReadPartial reads what there is of a record that was cut or changed. A last line that
// breaks off is left out, and so is what names something that is missing. Errors:
// *LineError.
func ReadPartial(r io.Reader) (Record, Wholeness, error) { return read(r, true) }

func read(r io.Reader, partial bool) (Record, Wholeness, error) {
	in := reader{partial: partial, places: map[uuid.UUID]place{}, leftOut: things{}, read: map[string]reading{}}
	for _, n := range nouns {
		in.read[n.name()] = n.begin()
	}
	broken, err := in.lines(r)
	if err != nil {
		return Record{}, Wholeness{}, err
	}
	if !in.begun {
		return Record{}, Wholeness{}, errors.New("empty file, want a first line that begins a record")
	}
	if broken != nil && !partial && in.version < sealedFrom {
		return Record{}, Wholeness{}, broken
	}
	whole := in.wholeness()
	if whole.Told && !whole.Whole && !partial {
		return Record{}, whole, &NotWholeError{whole}
	}
	built, err := in.record()
	if len(in.leftOut) > 0 {
		whole.Words += "; left out, since what they name is missing: " + in.leftOut.inWords()
	}
	return built, whole, err
}

// lines reads all lines. Broken is the error of the last one, when it breaks off.
func (in *reader) lines(r io.Reader) (broken *LineError, err error) {
	scanner := bufio.NewScanner(r)
	scanner.Buffer(make([]byte, 1<<16), maxLineBytes)
	total, lines := 0, 0
	for line := 1; scanner.Scan(); line++ {
		lines = line
		if total += len(scanner.Bytes()); total > maxBytes {
			return nil, &LineError{line, fmt.Errorf("the record is longer than %d MiB: bring it in in parts, as export record --from and --to write them", maxBytes>>20)}
		}
		text := bytes.TrimSpace(scanner.Bytes())
		if line == 1 {
			text = bytes.TrimPrefix(text, []byte("\uFEFF"))
		}
		if len(text) == 0 {
			continue
		}
		if broken != nil {
			return nil, broken
		}
		err := in.line(text, line)
		if _, syntax := errors.AsType[*json.SyntaxError](err); syntax && in.begun {
			broken, in.cut = &LineError{line, err}, line
		} else if err != nil {
			return nil, &LineError{line, err}
		}
	}
	if err := scanner.Err(); errors.Is(err, bufio.ErrTooLong) {
		return nil, &LineError{lines + 1, fmt.Errorf("the line is longer than %d MiB", maxLineBytes>>20)}
	} else if err != nil {
		return nil, err
	}
	return broken, nil
}

// reader gathers lines.
//
//	read     the things of each noun
//	things   what the first line says the file holds
//	cut      the line that breaks off, or 0
//	leftOut  what is left out of a partial record
type reader struct {
	partial bool
	begun   bool
	version int
	things  things
	end     *endLine
	seal    seal
	cut     int
	leftOut things
	places  map[uuid.UUID]place
	read    map[string]reading
}

// place is where in the file a thing stands: the id it gets, and its line.
type place struct {
	noun string
	id   int64
	line int
}

func (in *reader) line(text []byte, number int) error {
	var h struct {
		Noun    string    `json:"noun"`
		UUID    uuid.UUID `json:"uuid"`
		Version int       `json:"version"`
		Things  things    `json:"things"`
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
		in.begun, in.version, in.things = true, h.Version, h.Things
		return in.seal.add(h.Noun, text)
	}
	if in.end != nil {
		return fmt.Errorf("%s behind the line that ends the record", h.Noun)
	}
	if h.Noun == "end" && in.version >= sealedFrom {
		in.end = new(endLine)
		return strict(text, in.end)
	}
	if in.version >= sealedFrom {
		if err := in.seal.add(h.Noun, text); err != nil {
			return err
		}
	}
	n, known := in.read[h.Noun]
	if !known {
		return fmt.Errorf("noun %q is not known", h.Noun)
	}
	if h.UUID == uuid.Nil {
		return fmt.Errorf("%s without a uuid", h.Noun)
	}
	if twice, ok := in.places[h.UUID]; ok {
		return fmt.Errorf("uuid %s stands on line %d already", h.UUID, twice.line)
	}
	var members map[string]json.RawMessage
	if err := json.Unmarshal(text, &members); err != nil {
		return err
	}
	return n.add(in, members, h.UUID, number)
}

// strict reads a line whose fields are all known.
func strict(text []byte, into any) error {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	return decoder.Decode(into)
}
