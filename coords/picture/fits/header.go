package fits

import (
	"math"
	"strconv"
	"strings"
)

// Header holds the cards of one HDU in the order of the file. The zero Header is
// empty and answers every question with "not there".
type Header struct {
	Cards []Card
	first map[string]int // keyword to its first card
}

// Card is one keyword with its value. Text of a quoted value has its quotes and
// trailing blanks taken off; Quoted tells it from a bare one. Commentary cards
// (COMMENT, HISTORY, blank) keep their text in Comment.
type Card struct {
	Key, Value, Comment string
	Quoted              bool
}

// cardLength is the length of a card in bytes (FITS standard 4.0, section 3.3.1).
const cardLength = 80

// ParseCards reads cards, 80 bytes each, up to END or the end of the text. It
// never fails: what is not a card becomes a comment. Of a keyword that occurs
// twice the first one counts. CONTINUE cards (FITS standard 4.0, section 4.2.1.2)
// are joined to the value they continue.
func ParseCards(text []byte) Header {
	h := Header{first: make(map[string]int)}
	for len(text) > 0 {
		n := min(cardLength, len(text))
		line := string(text[:n])
		text = text[n:]
		if strings.TrimRight(line, " \x00") == "END" {
			break
		}
		h.add(parseCard(line))
	}
	return h
}

func (h *Header) add(c Card) {
	if c.Key == "CONTINUE" && len(h.Cards) > 0 {
		last := &h.Cards[len(h.Cards)-1]
		if last.Quoted && strings.HasSuffix(last.Value, "&") {
			last.Value = strings.TrimSuffix(last.Value, "&") + c.Value
			return
		}
	}
	if _, seen := h.first[c.Key]; !seen && c.Key != "" {
		h.first[c.Key] = len(h.Cards)
	}
	h.Cards = append(h.Cards, c)
}

// parseCard splits one card. A value follows "=" in column 9, or for HIERARCH
// keywords the first "=" of the line.
func parseCard(line string) Card {
	key := strings.TrimSpace(line[:min(8, len(line))])
	rest := line[min(8, len(line)):]
	switch {
	case key == "HIERARCH":
		name, value, found := strings.Cut(rest, "=")
		if !found {
			return Card{Key: key, Comment: strings.TrimSpace(rest)}
		}
		key, rest = strings.ToUpper(strings.TrimSpace(name)), value
	case key == "CONTINUE":
	case strings.HasPrefix(rest, "="):
		rest = rest[1:]
	default:
		return Card{Key: key, Comment: strings.TrimSpace(rest)}
	}
	c := Card{Key: key}
	rest = strings.TrimLeft(rest, " ")
	if strings.HasPrefix(rest, "'") {
		c.Quoted = true
		c.Value, rest = quoted(rest[1:])
		_, c.Comment, _ = strings.Cut(rest, "/")
	} else {
		c.Value, c.Comment, _ = strings.Cut(rest, "/")
		c.Value = strings.TrimSpace(c.Value)
	}
	c.Comment = strings.TrimSpace(c.Comment)
	return c
}

// quoted reads a string value up to its closing quote; a doubled quote stands
// for one. A missing closing quote ends it with the card.
func quoted(text string) (value, rest string) {
	var b strings.Builder
	for i := 0; i < len(text); i++ {
		if text[i] != '\'' {
			b.WriteByte(text[i])
			continue
		}
		if i+1 < len(text) && text[i+1] == '\'' {
			b.WriteByte('\'')
			i++
			continue
		}
		return strings.TrimRight(b.String(), " \x00"), text[i+1:]
	}
	return strings.TrimRight(b.String(), " \x00"), ""
}

// Text is the value of a keyword as text, whether quoted or not; false when the
// keyword is absent or its value empty.
func (h Header) Text(key string) (string, bool) {
	i, ok := h.first[key]
	if !ok || h.Cards[i].Value == "" {
		return "", false
	}
	return h.Cards[i].Value, true
}

// Float is the value of a keyword as a finite number; false when it is absent,
// no number, or not finite. Fortran exponents (1.5D3) and numbers that a program
// wrote in quotes are read too.
func (h Header) Float(key string) (float64, bool) {
	text, ok := h.Text(key)
	if !ok {
		return 0, false
	}
	text = strings.NewReplacer("D", "E", "d", "e").Replace(strings.TrimSpace(text))
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, false
	}
	return v, true
}

// Int is the value of a keyword as a whole number; false when it is absent or
// not one. "16." and "1.6E1" count as 16.
func (h Header) Int(key string) (int64, bool) {
	v, ok := h.Float(key)
	if !ok || v != math.Trunc(v) || math.Abs(v) > 1<<53 {
		return 0, false
	}
	return int64(v), true
}

// Bool is the value of a logical keyword; false, false when it is absent.
func (h Header) Bool(key string) (value, ok bool) {
	text, ok := h.Text(key)
	if !ok || (text != "T" && text != "F") {
		return false, false
	}
	return text == "T", true
}

// Comment is the comment beside a keyword's value, empty when there is none.
func (h Header) Comment(key string) string {
	if i, ok := h.first[key]; ok {
		return h.Cards[i].Comment
	}
	return ""
}
