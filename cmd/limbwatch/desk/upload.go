package desk

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords/picture/capture"
)

// Bounds of an upload. A stacked 16-bit picture of 20 megapixels has 40 MB, in
// colour 120 MB.
const (
	maxPictureBytes = 400 << 20
	maxUploadFiles  = 64
)

// addedJSON tells what became of a picture.
type addedJSON struct {
	Frame frameJSON `json:"frame"`
	Known bool      `json:"known"` // the same content was here already
	Note  string    `json:"note,omitempty"`
}

// postFrame answers POST /frames: one picture. It is kept beside the catalogue, in
// the folder pictures, and then added like any other file. A picture without a time
// is refused with the key under which it waits (see postHeld).
func (s *Server) postFrame(w http.ResponseWriter, r *http.Request) error {
	path, err := s.receive(w, r)
	if err != nil {
		return err
	}
	return s.add(w, r, path, observe.NewFrame{Path: path})
}

func (s *Server) add(w http.ResponseWriter, r *http.Request, path string, n observe.NewFrame) error {
	added, err := s.keeper.AddFrame(r.Context(), n)
	if duplicate, ok := errors.AsType[*observe.DuplicateError](err); ok {
		if duplicate.Frame.Path != path {
			os.Remove(path) // the copy that was just uploaded
		}
		v, err := s.seenFrame(r, duplicate.Frame.ID)
		if err != nil {
			return err
		}
		answer(w, http.StatusOK, addedJSON{Frame: describeFrame(v), Known: true, Note: "the same content, bit for bit, was added before"})
		return nil
	}
	if err != nil {
		if s.waitsForTime(w, path, err) {
			return nil
		}
		os.Remove(path)
		return err
	}
	v, err := s.seenFrame(r, added.Frame.ID)
	if err != nil {
		return err
	}
	out := addedJSON{Frame: describeFrame(v), Note: strings.Join(added.Warnings, "; ")}
	if added.DiscRefused != nil {
		_, why := explain(added.DiscRefused)
		out.Frame.DiscRefusal = &why
		s.refused(added.Frame.ID, why)
		out.Note = strings.TrimPrefix(out.Note+"; "+why.Error, "; ")
	}
	answer(w, http.StatusCreated, out)
	return nil
}

// waitsForTime keeps a picture whose time is not known, or not which zone it is in,
// until somebody says.
func (s *Server) waitsForTime(w http.ResponseWriter, path string, err error) bool {
	what, hint, written := err.Error(), "", ""
	zone, isZone := errors.AsType[*capture.ZoneNeededError](err)
	_, isDate := errors.AsType[*capture.AmbiguousDateError](err)
	_, isNone := errors.AsType[*capture.NoTimeError](err)
	switch {
	case isZone:
		written = zone.Stamp.Clock.Format("2006-01-02 15:04:05")
		what = fmt.Sprintf("%s: the clock read %s (%s)", baseName(path), written, zone.Stamp.Source)
		hint = "in which zone was that, as Europe/Lisbon, +02:00 or UTC?"
	case isDate:
		hint = "say which date is meant"
	case isNone:
		hint = "say when it was taken, and in which zone"
	default:
		return false
	}
	key := s.held.put(waiting{path: path, written: written})
	answer(w, http.StatusUnprocessableEntity, struct {
		refusal
		Held string `json:"held"`
		Time string `json:"time,omitempty"` // as it is written, without a zone
	}{refusal{Error: what, Hint: hint}, key, written})
	return true
}

// postHeld answers POST /held/{held}: the time of a picture that waits for one.
func (s *Server) postHeld(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Time string `json:"time"`
		Zone string `json:"zone"`
	}
	if err := take(w, r, &in); err != nil {
		return err
	}
	at, err := typedTime(in.Time, in.Zone)
	if err != nil {
		return err
	}
	waits, ok := s.held.take(r.PathValue("held"))
	if !ok {
		return &userError{status: http.StatusNotFound, what: "no picture waits for a time under this key", hint: "add the picture again"}
	}
	n := observe.NewFrame{Path: waits.path, Taken: at, Moment: catalog.MomentMiddle, SigmaS: typedSigmaS}
	if in.Time == waits.written { // the file's own time stands, only its zone was missing
		if n.Zone, err = capture.ParseZone(in.Zone); err != nil {
			return err
		}
		n.Taken, n.Moment, n.SigmaS = time.Time{}, catalog.MomentUnknown, 0
	}
	return s.add(w, r, waits.path, n)
}

// typedSigmaS is how well a time that is typed tells the middle of the exposure,
// seconds (common practice, no source).
const typedSigmaS = 30

// typedTime reads a time that somebody typed, in a zone. An hour that occurs twice,
// or not at all, is refused.
func typedTime(text, zone string) (time.Time, error) {
	location, err := capture.ParseZone(zone)
	if err != nil {
		return time.Time{}, bad(err.Error(), "write it as Europe/Lisbon, +02:00 or UTC")
	}
	text = strings.TrimSpace(strings.Replace(strings.TrimSuffix(strings.TrimSpace(text), "Z"), "T", " ", 1))
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02 15:04:05.999"} {
		wall, err := time.Parse(layout, text)
		if err != nil {
			continue
		}
		stamp := capture.Stamp{Clock: wall, Written: text}
		found, err := capture.Found{Stamps: []capture.Stamp{stamp}}.Resolve(capture.Options{Zone: location})
		if err != nil {
			return time.Time{}, bad(strings.ReplaceAll(err.Error(), "("+capture.Source(0).String()+") ", ""), "write its offset for the zone, as +02:00")
		}
		return found.UTC, nil
	}
	return time.Time{}, bad(fmt.Sprintf("time %q cannot be read", text), "write it as 2026-03-14 15:23:10")
}

// receive keeps the file of a multipart form in the folder of pictures.
func (s *Server) receive(w http.ResponseWriter, r *http.Request) (string, error) {
	r.Body = http.MaxBytesReader(w, r.Body, s.maxBytes)
	form, err := r.MultipartReader()
	if err != nil {
		return "", bad("this is no form with a file", "send the picture as the field picture of a multipart form")
	}
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			return "", bad("the form has no picture", "send it as the field picture")
		}
		if err != nil {
			return "", tooLarge(err)
		}
		if part.FormName() == "picture" {
			return s.store(part)
		}
	}
}

func tooLarge(err error) error {
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return &userError{status: http.StatusRequestEntityTooLarge, what: "the file is larger than the page takes",
			hint: "add it with limbwatch frame add, which reads it where it lies"}
	}
	return err
}

// store writes an upload under its own name, which often holds the time; a name that
// is taken gets a number.
func (s *Server) store(part *multipart.Part) (path string, err error) {
	folder := filepath.Join(filepath.Dir(s.keeper.Store.Path()), "pictures")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return "", err
	}
	file, err := create(folder, safeName(part.FileName()))
	if err != nil {
		return "", err
	}
	defer func() {
		if closeErr := file.Close(); err == nil {
			err = closeErr
		}
		if err != nil {
			os.Remove(file.Name())
		}
	}()
	if _, err := io.Copy(file, part); err != nil {
		return "", tooLarge(err)
	}
	return file.Name(), nil
}

// create makes a new file and never writes over one.
func create(folder, name string) (*os.File, error) {
	ext := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	for n := 1; ; n++ {
		file, err := os.OpenFile(filepath.Join(folder, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err == nil || !errors.Is(err, os.ErrExist) || n > 10_000 {
			return file, err
		}
		name = fmt.Sprintf("%s (%d)%s", stem, n+1, ext)
	}
}

// safeName is the last part of a name that a browser sent, with nothing in it that
// could lead elsewhere or that some system does not allow.
func safeName(name string) string {
	name = baseName(name)
	name = strings.Map(func(c rune) rune {
		if unicode.IsLetter(c) || unicode.IsDigit(c) || strings.ContainsRune(" ._-+()", c) {
			return c
		}
		return '_'
	}, name)
	name = strings.TrimLeft(name, ". ")
	name = strings.TrimRight(name, ". ")
	for len(name) > 120 { // whole characters from the front, the ending stays
		_, size := utf8.DecodeRuneInString(name)
		name = name[size:]
	}
	if name == "" {
		return "picture"
	}
	return name
}

// held are pictures that wait for their time.
type held struct {
	mu    sync.Mutex
	waits map[string]waiting
}

// waiting is a picture with the time that is written somewhere, if any.
type waiting struct{ path, written string }

func newHeld() *held { return &held{waits: map[string]waiting{}} }

func (h *held) put(w waiting) (key string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	key = secret()[:22]
	h.waits[key] = w
	return key
}

func (h *held) take(key string) (waiting, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	w, ok := h.waits[key]
	delete(h.waits, key)
	return w, ok
}

// close removes what nobody gave a time: it belongs to no frame.
func (h *held) close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, w := range h.waits {
		os.Remove(w.path)
	}
	clear(h.waits)
}

// postUpload answers the form of a page without script, with one file or several.
func (s *Server) postUpload(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, s.maxBytes)
	form, err := r.MultipartReader()
	if err != nil {
		return bad("this is no form with a file", "go back and choose a picture")
	}
	for range maxUploadFiles {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return tooLarge(err)
		}
		if err := s.addPart(r.Context(), part); err != nil {
			return err
		}
	}
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func (s *Server) addPart(ctx context.Context, part *multipart.Part) error {
	if part.FormName() != "picture" || part.FileName() == "" {
		return nil
	}
	path, err := s.store(part)
	if err != nil {
		return err
	}
	if _, err := s.keeper.AddFrame(ctx, observe.NewFrame{Path: path}); err != nil {
		os.Remove(path)
		return &userError{status: http.StatusUnprocessableEntity, what: err.Error(), hint: "with script the page asks for what is missing; limbwatch frame add takes it as flags"}
	}
	return nil
}
