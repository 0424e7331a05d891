// Package gather reads out of the catalogue what a chart or a report is made of: one
// function a chart, each giving the input that package chart draws. Commands and pages
// draw the same from it.
//
// Spans of time are From ≤ t < To, in UTC. A zero From or To is filled in: the span
// then ends with the day of the newest frame, and is a month long.
package gather

import (
	"context"
	"errors"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// Span is a stretch of time of a chart.
type Span struct{ From, To time.Time }

// filled is the span with what was left open.
func (s Span) filled(v *store.View, now time.Time) (from, to time.Time, err error) {
	from, to = s.From, s.To
	if to.IsZero() {
		last, err := newest(v, now)
		if err != nil {
			return from, to, err
		}
		to = catalog.DayOf(last).AddDate(0, 0, 1)
	}
	if from.IsZero() {
		from = to.AddDate(0, 0, -31)
	}
	return from, to, nil
}

// newest is the instant of the newest frame, or now when there is none; a clock that is
// a year ahead does not count.
func newest(v *store.View, now time.Time) (time.Time, error) {
	f, err := v.NewestFrame(now.AddDate(1, 0, 0))
	if _, none := errors.AsType[*store.NotFoundError](err); none {
		return now, nil
	}
	return f.Taken, err
}

// heading is the line under a chart's title: who and where, by default.
func heading(v *store.View) string {
	var parts []string
	if o, err := v.DefaultObserver(); err == nil {
		parts = append(parts, o.Name)
	}
	if s, err := v.DefaultSite(); err == nil {
		parts = append(parts, s.Name)
	}
	return strings.Join(parts, " · ")
}

// looksBetween gathers the looks of one's own frames in a stretch of time, their
// pictures, reduced, only when asked for.
func looksBetween(ctx context.Context, k observe.Keeper, from, to time.Time, withPictures bool) ([]chart.Look, error) {
	v := k.Store.Read(ctx)
	found, err := v.BearingsBetween(from, to)
	if err != nil {
		return nil, err
	}
	var looks []chart.Look
	for _, b := range found {
		f := b.Frame
		if f.Reference {
			continue
		}
		look := lookOf(b)
		// A limb exposure shows nothing of the disc.
		if withPictures && f.HasFile() && f.Role != catalog.RoleLimb {
			if look.Picture, err = k.Preview(f); err != nil {
				return nil, err
			}
		}
		looks = append(looks, look)
	}
	return looks, nil
}

// lookOf is a frame as the charts want it, without its picture.
func lookOf(b catalog.Bearings) chart.Look {
	look := chart.Look{Frame: b.Frame.ID, UTC: b.Frame.Middle(b.ClockCorrectionS), FrameWidthPx: b.Frame.WidthPx}
	if view, err := observe.ViewOf(b); err == nil {
		look.View = &view
	}
	return look
}
