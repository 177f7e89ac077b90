package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
)

// talk leaves what lead and partners say and draw around our last match before
// match past and our first from there on, unless it is there already.
func (d *demoEvent) talk(ctx context.Context, past int) error {
	mine := func(m record.Match) bool {
		return slices.Contains(slices.Concat(m.Red.Teams, m.Blue.Teams), demoOurTeam)
	}
	all := d.world.Schedule()
	var before, next *record.Match
	for i := range all {
		switch {
		case !mine(all[i]):
		case i < past:
			before = &all[i]
		case next == nil:
			next = &all[i]
		}
	}
	if before == nil || next == nil {
		return nil
	}
	if _, err := d.db.Record(ctx, d.id, record.DebriefID(d.id, before.ID, 1, "")); !errors.Is(err, store.ErrNotFound) {
		return err
	}
	var drafts []store.Draft
	var failed error
	put := func(id uuid.UUID, kind string, body any) {
		data, err := json.Marshal(body)
		failed = errors.Join(failed, err)
		drafts = append(drafts, store.Draft{RecordID: id, Kind: kind, Body: data})
	}
	named := func(format string, args ...any) uuid.UUID {
		return uuid.NewSHA1(d.id, fmt.Appendf(nil, "demo "+format, args...))
	}
	for i, t := range partners(before) {
		kept, again := []string{record.Kept, record.NotKept}[i%2], []string{record.AgainYes, record.AgainUnsure}[i%2]
		text := []string{"Starts left and stays there until drivers take over", "Lifts first, we wait"}[i%2]
		put(named("agreement %s", t), record.KindAgreement, record.AgreementBody{Match: before.ID, Team: t, Text: text, Kept: kept})
		put(record.DebriefID(d.id, before.ID, 1, t), record.KindDebrief, record.DebriefBody{Match: before.ID, Team: t, Again: again})
	}
	put(record.DebriefID(d.id, before.ID, 1, ""), record.KindDebrief, record.DebriefBody{Match: before.ID, Plan: record.Partly, Broke: "Two of us met at the same dock"})
	put(named("agreement"), record.KindAgreement, record.AgreementBody{Match: next.ID, Team: partners(next)[0], Text: "Keeps to the near side"})
	f := d.world.Event(0).Game.Field
	for i, t := range slices.Concat(next.Red.Teams, next.Blue.Teams) {
		x, row := f.LengthM*0.1, i
		if n := len(next.Red.Teams); i >= n {
			x, row = f.LengthM*0.9, i-n
		}
		y := f.WidthM * float64(row+1) / float64(len(next.Red.Teams)+1)
		put(record.SketchID(d.id, next.ID, 0, t), record.KindSketch, record.SketchBody{Match: next.ID, Team: t, Place: &[2]float64{x, y}})
	}
	put(named("word"), record.KindSketch, record.SketchBody{Match: next.ID, Text: "keep clear", Place: &[2]float64{f.LengthM / 2, f.WidthM * 0.15}})
	put(named("stroke"), record.KindSketch, record.SketchBody{Match: next.ID, Ink: [][2]float64{{f.LengthM * 0.85, f.WidthM * 0.4}, {f.LengthM * 0.7, f.WidthM * 0.3}, {f.LengthM * 0.55, f.WidthM * 0.35}}})
	if failed != nil {
		return failed
	}
	items, _, err := d.db.Revise(ctx, d.id, drafts, d.lead)
	if err != nil {
		return err
	}
	return d.append(ctx, items)
}

// partners are those who play with us in a match.
func partners(m *record.Match) []record.TeamID {
	side := &m.Red
	if slices.Contains(m.Blue.Teams, demoOurTeam) {
		side = &m.Blue
	}
	return slices.DeleteFunc(slices.Clone(side.Teams), func(t record.TeamID) bool { return t == demoOurTeam })
}
