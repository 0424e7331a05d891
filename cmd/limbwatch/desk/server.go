package desk

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"strings"
	"sync"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/wholefile"
)

//go:embed static templates
var files embed.FS

// apiPrefix stands before every route that speaks JSON.
const apiPrefix = "/api/v1/"

// Dependencies is what the page works on.
//
//	Keeper    the catalogue with its clock; changes are made in the page's own name
//	Log       where unexpected errors are written
//	DayBackup  makes the day's backup when it is due; nil: nobody wants one
//	Cautions  what is said of eyes and equipment, a paragraph each
//	Program   with its version: a chart names it in its file; "" for no word of it
type Dependencies struct {
	Keeper   observe.Keeper
	Log      *slog.Logger
	Cautions []string
	Program  string

	DayBackup func(context.Context) error
}

// Server answers the page's requests. It does not decide who may ask: see door.
type Server struct {
	deps     Dependencies
	mux      *http.ServeMux
	page     *template.Template
	gallery  *gallery
	turned   *gallery
	held     *held
	refusals refusals
	twins    twins
	compared *comparisons
	maxBytes int64 // of one upload
	keeper   observe.Keeper
	run      string // tells this run of the server from others

	closing chan struct{}
	once    sync.Once
}

// route is one thing that can be asked for.
type route struct {
	pattern, about string
	handle         func(http.ResponseWriter, *http.Request) error
}

func (s *Server) routes() []route {
	api := func(method, path string) string { return method + " " + apiPrefix + path }
	return []route{
		{api("GET", "{$}"), "this list", s.getRoutes},
		{api("GET", "days"), "the newest sittings with pictures, oldest first, with their frames and marks in small; before=TIME, from=TIME, day=2026-03-14 or frame=F3 for others", s.getDays},
		{api("GET", "changes"), "what has changed: since, the version of an answer, and shown, the frame that is open. The same two are taken by every change, whose answer then has it as news", s.getChanges},
		{api("GET", "news"), "a stream of events: changed, with the version, whenever the catalogue changes", s.getNews},
		{api("GET", "pointer"), "an open line (WebSocket) for the figures of the pointer", s.getPointer},
		{api("POST", "undo"), "take this page's newest change back", s.postUndo},
		{api("POST", "follow"), "join marks to passages by following them from day to day", s.postFollow},
		{api("POST", "redo"), "do again what was taken back", s.postRedo},

		{api("POST", "frames"), "add a picture: multipart form with the file as picture", s.postFrame},
		{api("POST", "held/{held}"), "say the time of a picture that had none: {time, zone}", s.postHeld},
		{api("GET", "frames/{frame}"), "a frame with its disc, north and Sun, and its day with all marks", s.getFrame},
		{api("POST", "frames/{frame}"), "put a frame right: {revision, time, zone, role, note}", s.postFrameEdit},
		{api("POST", "frames/{frame}/settle"), "what is odd about a picture was looked into and is right: {warnings: [ids; none: all], why}", s.postSettle},
		{api("POST", "frames/{frame}/remove"), "take a picture out of the catalogue, with its marks; the file stays: {revision}", s.postFrameRemove},
		{api("GET", "frames/{frame}/pixels"), "size, levels and light of a frame's picture", s.getPixels},
		{api("GET", "frames/{frame}/pixels/{level}"), "grey levels, 16 bit little-endian by rows; level n is shrunk 2ⁿ times", s.getLevel},
		{api("GET", "frames/{frame}/darkening"), "gains that take limb darkening out, at equal steps of r² from 0 to 1", s.getDarkening},
		{api("GET", "frames/{frame}/geometry"), "limb, rim, axis and grid in pixels; grid=off|degrees|carrington; x,y,r and north_deg,mirrored try another disc and north", s.getGeometry},
		{api("GET", "frames/{frame}/place"), "the place of a pixel: x, y, and sigma, the error of the click in pixels; disc_x,disc_y,disc_r and north_deg,mirrored,sigma_north_deg try another disc and north", s.getPlace},
		{api("GET", "frames/{frame}/ribbon"), "the whole Sun unrolled: passages and marks as parts of its width and height", s.getRibbon},
		{api("GET", "frames/{frame}/ghosts"), "what is expected at this frame's time: followed features, the day before's marks, and what is due at the edges", s.getGhosts},
		{api("GET", "charts/{chart}"), "a chart as SVG: disc, map, latitudes, numbers, passage, rates or coming; frame, passage, kind, rotation, woven, days, up, grid, theme, width", s.getChart},
		{api("GET", "frames/{frame}/composite"), "which picture of this hour shows the disc and which the edge, judged by role, light or time of exposure", s.getComposite},
		{api("GET", "frames/{frame}/turned/{other}/pixels"), "another frame's picture turned to this one's time: size, levels and light", s.getTurned},
		{api("GET", "frames/{frame}/turned/{other}/pixels/{level}"), "its grey levels, on this frame's pixels", s.getTurnedLevel},

		{api("POST", "frames/{frame}/disc/find"), "find the limb in the picture: {revision}", s.postDiscFind},
		{api("POST", "frames/{frame}/disc/circle"), "keep one of the picture's round edges as its disc: {revision, number}", s.postDiscCircle},
		{api("POST", "frames/{frame}/disc/points"), "fit the limb to points: {revision, points: [[x, y], …]}", s.postDiscPoints},
		{api("POST", "frames/{frame}/disc/typed"), "keep a circle: {revision, x_px, y_px, radius_px}", s.postDiscTyped},
		{api("POST", "frames/{frame}/disc/accept"), "say that the disc is right: {revision}", s.postDiscAccept},
		{api("POST", "frames/{frame}/disc/refuse"), "take the disc away: {revision}", s.postDiscRefuse},
		{api("GET", "frames/{frame}/disc/residuals"), "how far the limb's points lie from the fit, exaggerated, as lines in pixels", s.getResiduals},

		{api("GET", "frames/{frame}/north/methods"), "the ways to north that this frame offers", s.getNorthMethods},
		{api("GET", "frames/{frame}/north/propose"), "what a method says, without keeping it: method=…, and mirrored=true where its angle hangs on the parity", s.getNorthPropose},
		{api("GET", "frames/{frame}/north/held"), "what contradicts a north before it is kept: north_deg, mirrored, sigma_north_deg; at once by what is marked, the set-up's parity and the pictures compared already; patient=true compares the others, some seconds", s.getNorthHeld},
		{api("GET", "frames/{frame}/north/twins"), "north from the Sun's turning between this picture and those of the days around: the answers with their grids and what speaks for the first; same_roll=true says that the camera was not touched, alt_az=true that the mount is an alt-azimuth one", s.getNorthTwins},
		{api("POST", "frames/{frame}/north/twins"), "keep one of the answers that were shown, for all the pictures compared: {answer}", s.postNorthTwins},
		{api("POST", "frames/{frame}/north"), "keep a north: {revision, angle_deg, mirrored, sigma_deg, method}", s.postNorth},

		{api("POST", "frames/{frame}/marks"), "mark something: {kind, shape, points: [[x, y], …], sigma_click_px, label, note}; is, a passage or an earlier mark, says what it is a sighting of; force keeps figures that look like a slip", s.postMark},
		{api("POST", "marks/{mark}"), "edit a mark: {revision} and any of points, kind, label, note, spots; force keeps figures that look like a slip", s.postMarkEdit},
		{api("POST", "marks/{mark}/remove"), "remove a mark: {revision}", s.postMarkRemove},
		{api("POST", "marks/{mark}/join"), "a mark belongs to a passage, by your word: {passage}, its id or name, or new; or {with}, another mark whose feature it is", s.postMarkJoin},
		{api("POST", "marks/{mark}/part"), "a mark does not belong to the passage it is in: {}", s.postMarkPart},
		{api("GET", "marks/{mark}/edge"), "which filament a prominence at the edge is: candidates with probability, miss and limb passage, and what would decide it", s.getMarkEdge},
		{api("GET", "frames/{frame}/edge"), "the same for a place beyond the limb: x, y", s.getFrameEdge},
	}
}

// NewServer makes the page's handler.
func NewServer(deps Dependencies) (*Server, error) {
	if _, err := wholefile.Sweep(picturesOf(deps.Keeper)); err != nil { // uploads of a page that was killed
		deps.Log.Warn("desk: what an interrupted upload left could not be removed", "error", err)
	}
	page, err := template.ParseFS(files, "templates/*.html")
	if err != nil {
		return nil, err
	}
	s := &Server{
		deps: deps, mux: http.NewServeMux(), page: page, gallery: newGallery(galleryBytes), turned: newGallery(galleryBytes / 2),
		keeper: deps.Keeper.As(catalog.Desk("page")), held: newHeld(), compared: newComparisons(), refusals: refusals{words: map[catalog.FrameID]refusal{}}, maxBytes: maxPictureBytes, closing: make(chan struct{}), run: secret()[:12],
	}
	for _, r := range s.routes() {
		s.mux.HandleFunc(r.pattern, s.careful(r.handle))
	}
	s.mux.HandleFunc("GET /{$}", s.careful(s.getPage))
	s.mux.HandleFunc("POST /upload", s.careful(s.postUpload))
	if err := s.serveStatic(); err != nil {
		return nil, err
	}
	s.mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusNotFound, "there is nothing at this address", "the page is at /, its JSON at "+apiPrefix)
	})
	return s, nil
}

func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.mux.ServeHTTP(w, r) }

// Close ends the streams of news. A picture that waits for its time stays where it is: it
// may be the only copy.
func (s *Server) Close() { s.once.Do(func() { close(s.closing) }) }

// serveStatic gives out the embedded files, each under its own name; there is no
// folder behind them that could be walked.
func (s *Server) serveStatic() error {
	types := map[string]string{".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml"}
	return fs.WalkDir(files, "static", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		body, err := files.ReadFile(path)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(body)
		etag := `"` + hex.EncodeToString(sum[:12]) + `"`
		kind := types[path[strings.LastIndexByte(path, '.'):]]
		s.mux.HandleFunc("GET /"+path, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", kind)
			w.Header().Set("Cache-Control", "no-cache") // asked again each time, sent only when it changed
			w.Header().Set("Etag", etag)
			if r.Header.Get("If-None-Match") == etag {
				w.WriteHeader(http.StatusNotModified)
				return
			}
			w.Write(body)
		})
		return nil
	})
}

// careful turns a handler's error into an answer: known ones with their words and
// advice, unknown ones written to the log and told as far as they can be.
func (s *Server) careful(handle func(http.ResponseWriter, *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if fault := recover(); fault != nil && fault != http.ErrAbortHandler {
				s.deps.Log.Error("desk: a handler failed", "path", r.URL.Path, "fault", fault)
				refuse(w, r, http.StatusInternalServerError, "limbwatch made a mistake on this request",
					"what was kept before is unharmed; the terminal shows more")
			}
		}()
		err := handle(w, r)
		if err == nil || errors.Is(err, context.Canceled) {
			return
		}
		status, why := explain(err)
		if status >= 500 {
			s.deps.Log.Error("desk: a request failed", "path", r.URL.Path, "error", err)
		}
		answerRefusal(w, r, status, why)
	}
}

func (s *Server) getRoutes(w http.ResponseWriter, _ *http.Request) error {
	type line struct {
		Route string `json:"route"`
		About string `json:"about"`
	}
	var list []line
	for _, r := range s.routes() {
		list = append(list, line{Route: strings.Replace(r.pattern, "{$}", "", 1), About: r.about})
	}
	answer(w, http.StatusOK, map[string]any{"routes": list})
	return nil
}
