package desk

import (
	"fmt"
	"net/http"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/read"
	"limbwatch/coords/figure"
)

// rival is a passage that a mark may belong to, where following could not tell.
//
//	Odds   that it does, as the program weighed it; nil: it did not
//	Made   the mark is in this one now
type rival struct {
	PassageID string   `json:"passage_id"`
	Passage   string   `json:"passage"`
	Odds      *float64 `json:"odds,omitempty"`
	Made      bool     `json:"made,omitempty"`
	Text      string   `json:"text"`
}

// rivalsOf are what following proposed for a mark but did not do, with what it did
// before them.
func rivalsOf(e catalog.Entry, proposed []read.Rival) (all []rival) {
	if len(proposed) == 0 {
		return nil
	}
	if made := e.Join; made != nil {
		all = append(all, rival{PassageID: made.Passage.String(), Passage: e.PassageName, Odds: made.Odds, Made: true, Text: oddsText(made.Odds)})
	}
	for _, p := range proposed {
		all = append(all, rival{PassageID: p.Passage.ID.String(), Passage: p.Passage.Name, Odds: p.Join.Odds, Text: oddsText(p.Join.Odds)})
	}
	return all
}

func oddsText(odds *float64) string {
	if odds == nil {
		return "not weighed"
	}
	return figure.Percent(*odds)
}

// joinedText says whose word it is that a mark belongs where it is.
func joinedText(j *catalog.Join) string {
	switch {
	case j == nil:
		return ""
	case j.By == catalog.ByObserver:
		return "by your word"
	case j.Odds == nil:
		return "by following"
	}
	return "by following, " + figure.Percent(*j.Odds)
}

// newPassage in place of a passage's name begins one.
const newPassage = "new"

// postMarkJoin answers POST /marks/{mark}/join: the mark belongs to a passage by the
// observer's word, which following does not change.
func (s *Server) postMarkJoin(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Passage string `json:"passage"`
		With    string `json:"with"`
	}
	id, err := markID(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	if err := s.join(r, id, in.Passage, in.With); err != nil {
		return err
	}
	return s.tellMark(w, r, id, http.StatusOK)
}

func (s *Server) join(r *http.Request, id catalog.MarkID, passage, with string) error {
	ctx := r.Context()
	read := s.keeper.Store.Read(ctx)
	if _, err := read.Mark(id); err != nil {
		return err
	}
	if with != "" {
		other, err := catalog.ParseMarkID(with)
		if err != nil {
			return bad(err.Error(), "nothing was kept")
		}
		joins, err := read.JoinsOf(other)
		if err != nil {
			return err
		}
		if len(joins) == 0 || joins[0].State != catalog.Made {
			_, err = s.keeper.BeginPassage(ctx, []catalog.MarkID{other, id})
			return err
		}
		return s.keeper.JoinMarks(ctx, joins[0].Passage, []catalog.MarkID{id})
	}
	if passage == newPassage {
		_, err := s.keeper.BeginPassage(ctx, []catalog.MarkID{id})
		return err
	}
	p, err := s.passageOf(r, passage)
	if err != nil {
		return err
	}
	return s.keeper.JoinMarks(ctx, p.ID, []catalog.MarkID{id})
}

// postMarkPart answers POST /marks/{mark}/part: the mark does not belong to the
// passage that it is in, and following will not put it there again.
func (s *Server) postMarkPart(w http.ResponseWriter, r *http.Request) error {
	var in struct{}
	id, err := markID(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		_, err = s.keeper.Store.Read(r.Context()).Mark(id)
	}
	if err == nil {
		err = s.keeper.RefuseJoin(r.Context(), id)
	}
	if err != nil {
		return err
	}
	return s.tellMark(w, r, id, http.StatusOK)
}

// followedWords tells what following did.
func followedWords(done observe.Followed) string {
	words := fmt.Sprintf("%d marks looked at: %d joined to passages, %d of them new", done.Marks, done.Joined, done.New)
	if done.Moved > 0 {
		words += fmt.Sprintf(", %d moved to another", done.Moved)
	}
	if done.Reweighed > 0 {
		words += fmt.Sprintf(", %d with other odds", done.Reweighed)
	}
	if n := done.Proposed; n > 0 {
		words += fmt.Sprintf("; %d %s doubtful, shown with a question mark in the ledger", n, plural(n, "join is", "joins are"))
	}
	if n := done.Withdrawn; n > 0 {
		words += fmt.Sprintf("; %d %s no longer proposed", n, plural(n, "join is", "joins are"))
	}
	return words
}
