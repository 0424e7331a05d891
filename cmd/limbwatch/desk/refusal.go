package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"limbwatch/coords/limb"
)

// refusal is an error as it reaches the page: what happened, and what to do.
type refusal struct {
	Error string `json:"error"`
	Hint  string `json:"hint,omitempty"`
	// Odd says that the figures look like a slip: sent again with force they are kept.
	Odd bool `json:"odd,omitempty"`
	// Now is the newest version of what a stale edit was made from.
	Now any `json:"now,omitempty"`
	// Circles are the round edges of a picture of which any may be the Sun's.
	Circles []circleJSON `json:"circles,omitempty"`
}

// circleJSON is one of several round edges; Odds is the probability that it is the Sun's.
type circleJSON struct {
	Number int      `json:"number"`
	X      float64  `json:"x_px"`
	Y      float64  `json:"y_px"`
	R      float64  `json:"radius_px"`
	Odds   *float64 `json:"odds,omitempty"`
	Words  string   `json:"words"`
}

func circlesOf(rivals []limb.Rival) []circleJSON {
	var all []circleJSON
	for i, r := range rivals {
		l := r.Limb
		words := fmt.Sprintf("circle %d, radius %.0f px", i+1, l.RadiusPx)
		if r.Odds != nil {
			words += fmt.Sprintf(", odds %.2f", *r.Odds)
		}
		all = append(all, circleJSON{
			Number: i + 1, X: l.Centre.X, Y: l.Centre.Y, R: l.RadiusPx, Odds: r.Odds,
			Words: words,
		})
	}
	return all
}

var refusalPage = template.Must(template.New("refusal").Parse(`<!doctype html>
<html lang="en-GB"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>limbwatch</title><h1>{{.Error}}</h1><p>{{.Hint}}</p></html>
`))

// refuse answers with an error, as JSON to scripts and as a page to people.
func refuse(w http.ResponseWriter, r *http.Request, status int, what, hint string) {
	answerRefusal(w, r, status, refusal{Error: what, Hint: hint})
}

func answerRefusal(w http.ResponseWriter, r *http.Request, status int, why refusal) {
	if !strings.HasPrefix(r.URL.Path, apiPrefix) && strings.Contains(r.Header.Get("Accept"), "text/html") {
		var page bytes.Buffer
		if refusalPage.Execute(&page, why) == nil {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.WriteHeader(status)
			w.Write(page.Bytes())
			return
		}
	}
	answer(w, status, why)
}

// answer writes JSON. A value that cannot be written is a mistake of ours; it is
// found before anything is sent.
func answer(w http.ResponseWriter, status int, value any) {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(true)
	if err := enc.Encode(value); err != nil {
		status = http.StatusInternalServerError
		body.Reset()
		json.NewEncoder(&body).Encode(refusal{
			Error: "the answer could not be written: " + err.Error(),
			Hint:  "this is a mistake in limbwatch; the catalogue is unharmed. Reload the page",
		})
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	w.Write(body.Bytes())
}
