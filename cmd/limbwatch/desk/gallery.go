package desk

import (
	"context"
	"fmt"
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

// gallery holds the few pictures that were looked at last, decoded. A picture that
// two requests want at once is decoded once.
type gallery struct {
	mu      sync.Mutex
	shown   map[string]*slot
	order   []string // oldest first
	maximum int
}

type slot struct {
	ready chan struct{}
	value *exposed
	err   error
}

func newGallery(maximum int) *gallery {
	return &gallery{shown: map[string]*slot{}, maximum: maximum}
}

// picture gives what the key names, opening it when it is not at hand. A failure is
// not kept.
func (g *gallery) picture(ctx context.Context, key string, open func() (*picture.Picture, error)) (*exposed, error) {
	g.mu.Lock()
	s, have := g.shown[key]
	if !have {
		s = &slot{ready: make(chan struct{})}
		g.shown[key] = s
		g.order = append(g.order, key)
		if len(g.order) > g.maximum {
			delete(g.shown, g.order[0])
			g.order = g.order[1:]
		}
	}
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
	pic, err := open()
	if err != nil {
		s.err = err
		return
	}
	s.value = expose(pic)
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
	for i, k := range g.order {
		if k == key {
			g.order = append(g.order[:i], g.order[i+1:]...)
			break
		}
	}
}
