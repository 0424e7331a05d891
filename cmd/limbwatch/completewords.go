package main

import (
	"time"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

// fewSittings is how many of the newest sittings' frames and marks are offered:
// what one types by hand is of late.
const fewSittings = 20

func observerWords(v *store.View) ([]string, error) {
	return described(v.Observers, func(o catalog.Observer) (string, string) { return o.ID.String(), o.Name })
}

func siteWords(v *store.View) ([]string, error) {
	return described(v.Sites, func(s catalog.Site) (string, string) { return s.ID.String(), s.Name })
}

func setupWords(v *store.View) ([]string, error) {
	return described(v.Setups, func(s catalog.Setup) (string, string) {
		telescope, err := v.Instrument(s.Instrument)
		if err != nil {
			return s.ID.String(), s.Name
		}
		return s.ID.String(), telescope.Name + "/" + s.Name
	})
}

func passageWords(v *store.View) ([]string, error) {
	return described(v.Passages, func(p catalog.Passage) (string, string) { return p.Name, p.Kind.String() })
}

func sittingWords(v *store.View) ([]string, error) {
	return described(func() ([]catalog.Sitting, error) { return newestSittings(v) }, func(s catalog.Sitting) (string, string) {
		return s.ID.String(), s.Day.Format(time.DateOnly)
	})
}

func frameWords(v *store.View) ([]string, error) {
	return described(func() ([]catalog.Frame, error) { return newestFrames(v) }, func(f catalog.Frame) (string, string) {
		return f.ID.String(), f.Taken.UTC().Format("2006-01-02 15:04Z ") + f.Role.String()
	})
}

func markWords(v *store.View) ([]string, error) {
	return described(func() (marks []catalog.Mark, err error) {
		frames, err := newestFrames(v)
		if err != nil {
			return nil, err
		}
		for _, f := range frames {
			found, err := v.MarksOn(f.ID)
			if err != nil {
				return nil, err
			}
			marks = append(marks, found...)
		}
		return marks, nil
	}, func(m catalog.Mark) (string, string) {
		return m.ID.String(), m.Kind.String() + " on " + m.Frame.String()
	})
}

func newestSittings(v *store.View) ([]catalog.Sitting, error) {
	all, err := v.SittingsBetween(time.Time{}, time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC))
	return all[max(0, len(all)-fewSittings):], err
}

func newestFrames(v *store.View) (frames []catalog.Frame, err error) {
	sittings, err := newestSittings(v)
	if err != nil {
		return nil, err
	}
	for _, s := range sittings {
		found, err := v.FramesOf(s.ID)
		if err != nil {
			return nil, err
		}
		frames = append(frames, found...)
	}
	return frames, nil
}

// described lists things with an explanation each.
func described[T any](things func() ([]T, error), describe func(T) (word, explanation string)) ([]string, error) {
	all, err := things()
	if err != nil {
		return nil, err
	}
	list := make([]string, len(all))
	for i, thing := range all {
		list[i] = cobra.CompletionWithDesc(describe(thing))
	}
	return list, nil
}
