package desk

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords/limb"
	"limbwatch/coords/picture"
)

// explain gives an error the status and the advice that the page shows with it.
func explain(err error) (int, refusal) {
	why := refusal{Error: err.Error()}
	if e, ok := errors.AsType[*userError](err); ok {
		why.Hint, why.Now = e.hint, e.now
		return e.status, why
	}
	if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
		why.Error = "the upload is larger than the page takes"
		why.Hint = "add it with limbwatch frame add, which reads it where it lies"
		return http.StatusRequestEntityTooLarge, why
	}
	if _, ok := errors.AsType[*picture.TooLargeError](err); ok {
		why.Hint = "crop or bin it"
		return http.StatusRequestEntityTooLarge, why
	}
	if e, ok := errors.AsType[*picture.UnsupportedError](err); ok {
		why.Error, why.Hint = strings.TrimSuffix(why.Error, "; "+e.Advice), e.Advice // told once
		return http.StatusUnsupportedMediaType, why
	}
	if _, ok := errors.AsType[*observe.UnreadableError](err); ok {
		why.Hint = "is the file whole? Copy it again, or write it anew as PNG, TIFF or FITS"
		return http.StatusUnprocessableEntity, why
	}
	if e, ok := errors.AsType[*limb.RefusedError](err); ok && len(e.Rivals) > 1 {
		why.Circles = circlesOf(e.Rivals)
		why.Hint = "they are drawn on the picture: take the one that is the Sun's edge, or mark three or more points on it (p)"
		return http.StatusUnprocessableEntity, why
	}
	if e, ok := errors.AsType[*observe.NoCircleError](err); ok {
		why.Hint = fmt.Sprintf("find the disc anew: there are %d now", e.Circles)
		return http.StatusNotFound, why
	}
	if _, ok := errors.AsType[*limb.RefusedError](err); ok {
		why.Hint = "mark three or more points on the limb (p), or add a picture that shows more of it"
		return http.StatusUnprocessableEntity, why
	}
	if errors.Is(err, observe.ErrNoDisc) || errors.Is(err, observe.ErrNoNorth) || errors.Is(err, observe.ErrNoSite) {
		why.Hint = "the questions on the page, disc and north, fill it in"
		return http.StatusConflict, why
	}
	if e, ok := errors.AsType[*store.NotFoundError](err); ok {
		why.Hint = "reload the page to see what there is"
		if e.Removed {
			why.Hint = "undo brings it back, if it was removed here"
		}
		return http.StatusNotFound, why
	}
	if _, ok := errors.AsType[*store.InvalidError](err); ok {
		why.Hint = "nothing was changed: put the value right and send it again"
		return http.StatusBadRequest, why
	}
	if _, ok := errors.AsType[*observe.NotAtEdgeError](err); ok {
		why.Hint = "mark a prominence beyond the limb: 4, its base, its top"
		return http.StatusUnprocessableEntity, why
	}
	if _, ok := errors.AsType[*observe.ImplausibleError](err); ok {
		why.Odd, why.Hint = true, "nothing was kept: check its kind, its points and the disc, or keep it all the same"
		return http.StatusUnprocessableEntity, why
	}
	if _, ok := errors.AsType[*observe.OffPictureError](err); ok {
		why.Hint = "nothing was kept: mark on the picture"
		return http.StatusUnprocessableEntity, why
	}
	if _, ok := errors.AsType[*store.StaleError](err); ok {
		why.Hint = "look at the newer version, then decide"
		return http.StatusConflict, why
	}
	if _, ok := errors.AsType[*store.InUseError](err); ok {
		why.Hint = "remove what hangs on it first"
		return http.StatusConflict, why
	}
	if e, ok := errors.AsType[*store.ConflictError](err); ok {
		why.Hint = "take the later change back first"
		if e.Gone {
			why.Hint = "do again first what was taken back, where that was done"
		}
		return http.StatusConflict, why
	}
	if _, ok := errors.AsType[*store.TakenError](err); ok {
		why.Hint = "reload the page to see what is there, or take another"
		return http.StatusConflict, why
	}
	if _, ok := errors.AsType[*store.BusyError](err); ok {
		why.Hint = "try again once the other program is done"
		return http.StatusServiceUnavailable, why
	}
	if _, ok := errors.AsType[*store.FullError](err); ok {
		why.Hint = "nothing of this was kept, all else is as it was: make room on that drive, then try again"
		return http.StatusInsufficientStorage, why
	}
	if _, ok := errors.AsType[*store.ReplacedError](err); ok {
		why.Hint = "nothing was changed: end the page with Ctrl-C in its terminal, and start it again with limbwatch desk"
		return http.StatusServiceUnavailable, why
	}
	why.Hint = "nothing was changed; the terminal shows the same with more around it"
	return http.StatusInternalServerError, why
}
