package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
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
	"limbwatch/catalog/wholefile"
	"limbwatch/coords/picture/capture"
	"limbwatch/coords/plainfile"
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
	return s.add(w, r, observe.NewFrame{Path: path})
}

func (s *Server) add(w http.ResponseWriter, r *http.Request, n observe.NewFrame) error {
	path := n.Path
	added, err := s.keeper.AddFrame(r.Context(), n)
	if duplicate, ok := errors.AsType[*observe.DuplicateError](err); ok {
		if kept := duplicate.Frame; kept.Path != path && holds(kept.Path, kept.SHA256) {
			os.Remove(path)
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
		dropUnreadable(path, err)
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

// dropUnreadable removes an upload that is no picture. What is one stays, though it
// could not be added: it may be the only copy, and is known again when it is sent again.
func dropUnreadable(path string, err error) {
	if _, ok := errors.AsType[*observe.UnreadableError](err); ok {
		os.Remove(path)
	}
}

// waitsForTime keeps a picture whose time is not known, or not which zone it is in,
// until somebody says.
func (s *Server) waitsForTime(w http.ResponseWriter, path string, err error) bool {
	what, hint, written := err.Error(), "", ""
	zone, isZone := errors.AsType[*capture.ZoneNeededError](err)
	_, isDate := errors.AsType[*capture.AmbiguousDateError](err)
	_, isNone := errors.AsType[*capture.NoTimeError](err)
	_, isLeap := errors.AsType[*capture.NoLeapSecondError](err)
	switch {
	case isZone:
		written = zone.Stamp.Clock.Format("2006-01-02 15:04:05")
		what = fmt.Sprintf("%s: the clock read %s (%s)", baseName(path), written, zone.Stamp.Source)
		hint = "in which zone was that, as Europe/Lisbon, +02:00 or UTC?"
	case isDate:
		hint = "say which date is meant"
	case isNone, isLeap:
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
	return s.add(w, r, n)
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
	typed, err := capture.ParseTyped(text, location)
	_, twice := errors.AsType[*capture.TwiceError](err)
	_, never := errors.AsType[*capture.NeverError](err)
	switch {
	case twice, never:
		return time.Time{}, bad(err.Error(), "write its offset for the zone, as +02:00")
	case err != nil:
		return time.Time{}, bad(err.Error(), "write it as 2026-03-14 15:23:10")
	case typed.DayOnly:
		return time.Time{}, bad(fmt.Sprintf("time %q has no time of day", text), "write it as 2026-03-14 15:23:10")
	}
	if _, meant := typed.UTC.In(location).Zone(); meant != typed.EastS {
		return time.Time{}, bad(fmt.Sprintf("time %q has a zone of its own, and its zone is said to be %s", text, zone), "say the same zone twice, or leave it out of the time")
	}
	return typed.UTC, nil
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
			return "", broken(err)
		}
		if part.FormName() == "picture" {
			return s.store(part)
		}
	}
}

// broken says what is wrong with a form that cannot be read to its end.
func broken(err error) error {
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return &userError{status: http.StatusRequestEntityTooLarge, what: "the file is larger than the page takes",
			hint: "add it with limbwatch frame add, which reads it where it lies"}
	}
	return bad(fmt.Sprintf("the form cannot be read: %v", err), "send the picture again as the field picture of a multipart form")
}

// picturesOf is the folder of the pictures that came in through the page.
func picturesOf(k observe.Keeper) string {
	return filepath.Join(filepath.Dir(k.Store.Path()), "pictures")
}

// store writes an upload under its own name, which often holds the time; a name that
// is taken gets a number, unless the file that has it holds the same.
func (s *Server) store(part *multipart.Part) (path string, err error) {
	folder := picturesOf(s.keeper)
	if err := wholefile.Folder(folder); err != nil {
		return "", err
	}
	name := safeName(part.FileName())
	file, err := wholefile.Begin(folder)
	if err != nil {
		return "", err
	}
	defer file.Discard()
	hash := sha256.New()
	sent := &source{Reader: part}
	if _, err := io.Copy(io.MultiWriter(file, hash), sent); err != nil {
		if sent.err != nil {
			return "", broken(sent.err)
		}
		return "", err
	}
	sum := hex.EncodeToString(hash.Sum(nil))
	ext := filepath.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	for n := 2; ; n++ {
		path = filepath.Join(folder, name)
		err := file.KeepAs(path)
		if !errors.Is(err, fs.ErrExist) || n > 10_000 {
			return path, err
		}
		if holds(path, sum) {
			return path, nil
		}
		name = fmt.Sprintf("%s (%d)%s", stem, n, ext)
	}
}

// source is a reader that remembers its own error, so that it is not taken for the
// writer's.
type source struct {
	io.Reader
	err error
}

func (s *source) Read(b []byte) (int, error) {
	n, err := s.Reader.Read(b)
	if !errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		s.err = err
	}
	return n, err
}

// holds says whether a file has the content of a checksum.
func holds(path, sum string) bool {
	file, err := plainfile.Open(path)
	if err != nil {
		return false
	}
	defer file.Close()
	have := sha256.New()
	_, err = io.Copy(have, file)
	return err == nil && hex.EncodeToString(have.Sum(nil)) == sum
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
	name = shortened(name)
	if name == "" {
		return "picture"
	}
	return name
}

// maxNameBytes leaves room for a number; systems allow 255.
const maxNameBytes = 200

// shortened takes what is too much out of the middle of a name: a date stands at its
// beginning or its end.
func shortened(name string) string {
	if len(name) <= maxNameBytes {
		return name
	}
	const gap = "..."
	front, back := (maxNameBytes-len(gap))/2, len(name)-(maxNameBytes-len(gap))/2
	for !utf8.RuneStart(name[front]) {
		front--
	}
	for !utf8.RuneStart(name[back]) {
		back++
	}
	return name[:front] + gap + name[back:]
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

// postUpload answers the form of a page without script, with one file or several.
func (s *Server) postUpload(w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, s.maxBytes)
	form, err := r.MultipartReader()
	if err != nil {
		return bad("this is no form with a file", "go back and choose a picture")
	}
	for range maxUploadFiles {
		part, err := form.NextPart()
		if err == io.EOF { // itself: the end of the form; inside another error, a form that breaks off
			break
		}
		if err != nil {
			return broken(err)
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
		dropUnreadable(path, err)
		return &userError{status: http.StatusUnprocessableEntity, what: err.Error(), hint: "with script the page asks for what is missing; limbwatch frame add takes it as flags"}
	}
	return nil
}
