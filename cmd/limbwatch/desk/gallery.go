package desk

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"limbwatch/coords/picture"
)

// exposed is a decoded picture, ready for the page and for measuring.
type exposed struct {
	pic   *picture.Picture
	depth depth
	full  level
	small level // firstSight levels down; the full one when the picture is small
	first int   // the number of that level
}

// bytes is how much memory the picture takes.
func (e *exposed) bytes() int64 {
	total := 4*int64(len(e.pic.Grey)) + 2*int64(len(e.full.grey))
	if e.first > 0 {
		total += 2 * int64(len(e.small.grey))
	}
	return total
}

// gallery holds the pictures that were looked at last, decoded, within a bound of memory;
// the one looked at longest ago goes first. A picture that two requests want at once is
// decoded once, and one picture at a time: decoding takes more memory than holding.
type gallery struct {
	mu       sync.Mutex
	shown    map[string]*slot
	order    []string // looked at longest ago first
	maxBytes int64
}

// galleryBytes is what all galleries of a page hold, at most, besides the one picture
// that somebody looks at: some thirty of 5 megapixels.
const galleryBytes = 256 << 20

type slot struct {
	ready chan struct{}
	value *exposed
	err   error
}

func newGallery(maxBytes int64) *gallery {
	return &gallery{shown: map[string]*slot{}, maxBytes: maxBytes}
}

// decoding is held by who decodes a picture.
var decoding = make(chan struct{}, 1)

// picture gives what the key names, opening it when it is not at hand. A failure is
// not kept.
func (g *gallery) picture(ctx context.Context, key string, open func() (*picture.Picture, error)) (*exposed, error) {
	g.mu.Lock()
	s, have := g.shown[key]
	if have {
		g.order = slices.DeleteFunc(g.order, func(k string) bool { return k == key })
	} else {
		s = &slot{ready: make(chan struct{})}
		g.shown[key] = s
	}
	g.order = append(g.order, key)
	g.mu.Unlock()
	if !have {
		g.fill(key, s, open)
	}
	select {
	case <-s.ready:
		return s.value, s.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// makeRoom lets go of what was looked at longest ago, but for one picture, until the rest
// is within the bound.
func (g *gallery) makeRoom(but string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	total := int64(0)
	for _, key := range slices.Backward(slices.Clone(g.order)) {
		s := g.shown[key]
		if key == but || s.value == nil {
			continue
		}
		if total += s.value.bytes(); total > g.maxBytes {
			delete(g.shown, key)
			g.order = slices.DeleteFunc(g.order, func(k string) bool { return k == key })
		}
	}
}

func (g *gallery) fill(key string, s *slot, open func() (*picture.Picture, error)) {
	defer close(s.ready)
	defer func() {
		// A damaged file must not end the server, nor leave others waiting.
		if fault := recover(); fault != nil {
			s.err = fmt.Errorf("the picture could not be read: %v", fault)
		}
		if s.err != nil {
			g.forget(key)
		}
	}()
	decoding <- struct{}{}
	defer func() { <-decoding }()
	g.makeRoom(key)
	pic, err := open()
	if err != nil {
		s.err = err
		return
	}
	value := expose(pic)
	g.mu.Lock()
	s.value = value
	g.mu.Unlock()
}

func expose(pic *picture.Picture) *exposed {
	e := &exposed{pic: pic, depth: depthOf(pic)}
	e.full = fullLevel(pic, e.depth)
	e.small = e.full
	if pic.Width*pic.Height > 1_500_000 {
		for range firstSight {
			e.small = e.small.halved()
			e.first++
		}
	}
	return e
}

func (g *gallery) forget(key string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	delete(g.shown, key)
	g.order = slices.DeleteFunc(g.order, func(k string) bool { return k == key })
}
