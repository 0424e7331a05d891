package desk

import (
	"errors"
	"net/http"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// warningJSON is something odd about a frame, as the page has it.
type warningJSON struct {
	ID       string `json:"id"`
	About    string `json:"about"`    // in a word
	Question string `json:"question"` // of the page's three, where it is put right
	Words    string `json:"words"`
	Settled  string `json:"settled,omitempty"` // who settled it, when and why
}

// aboutWords name the causes, and the question that they belong to.
var aboutWords = map[catalog.Cause][2]string{
	catalog.CauseFile: {"file", "marks"}, catalog.CauseHorizon: {"time", "marks"},
	catalog.CauseLimb: {"limb", "disc"}, catalog.CauseSize: {"disc's size", "disc"}, catalog.CauseNorth: {"north", "north"},
}

// describeWarnings words the warnings of a frame, those that nobody settled first.
func describeWarnings(v *store.View, all []catalog.Warning) ([]warningJSON, error) {
	open, settled := []warningJSON{}, []warningJSON{}
	for _, w := range all {
		about := aboutWords[w.Cause]
		out := warningJSON{ID: w.ID.String(), About: about[0], Question: about[1], Words: w.Words}
		if s := w.Settled; s != nil {
			who := "settled"
			if s.By != 0 {
				o, err := v.Observer(s.By)
				if err != nil {
					return nil, err
				}
				who = o.Name
			}
			out.Settled = who + ", " + s.At.UTC().Format("2 January 2006 15:04 UTC") + ": " + s.Why
			settled = append(settled, out)
			continue
		}
		open = append(open, out)
	}
	return append(open, settled...), nil
}

// openWords are the words of a frame's warnings that nobody has settled.
func openWords(warnings []catalog.Warning, id catalog.FrameID) (words []string) {
	for _, w := range warnings {
		if w.Frame == id {
			words = append(words, w.Words)
		}
	}
	return words
}

// postSettle answers POST /frames/{frame}/settle: a person's word that warnings are no
// reason to doubt the picture.
func (s *Server) postSettle(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Warnings []string `json:"warnings"`
		Why      string   `json:"why"`
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	word := observe.Settling{Frame: id, Why: in.Why}
	for _, text := range in.Warnings {
		warning, err := catalog.ParseWarningID(text)
		if err != nil {
			return bad(err.Error(), "the frame lists its warnings")
		}
		word.Warnings = append(word.Warnings, warning)
	}
	if _, err := s.keeper.Settle(r.Context(), word); err != nil {
		if _, ok := errors.AsType[*observe.NothingOpenError](err); ok {
			return bad(err.Error(), "nothing is left to do")
		}
		return err
	}
	return s.done(w, r)
}
