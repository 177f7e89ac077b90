package api

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// picks reads a pick list in its order.
func (s *Server) picks(ctx context.Context, event, list uuid.UUID) ([]table.Pick, error) {
	if _, err := s.listRecord(ctx, event, list); err != nil {
		return nil, err
	}
	entries, err := s.entries(ctx, event, list)
	if err != nil {
		return nil, err
	}
	picks := []table.Pick{}
	for _, e := range entries {
		if !e.Removed {
			picks = append(picks, table.Pick{Rank: len(picks) + 1, Team: e.Team, Tier: e.Tier, Never: e.Never, Reason: e.Reason, Note: e.Note})
		}
	}
	return picks, nil
}

// listRecord finds a pick list.
func (s *Server) listRecord(ctx context.Context, event, list uuid.UUID) (store.Record, error) {
	r, err := s.opt.Store.Record(ctx, event, list)
	if errors.Is(err, store.ErrNotFound) || err == nil && r.Kind != record.KindList {
		return r, notFound.because("There is no such pick list; say which with the parameter list.", problemItem{Parameter: "list", Message: "no such list"})
	}
	return r, err
}

// entries are all entries of a list, removed ones too, in its order.
func (s *Server) entries(ctx context.Context, event, list uuid.UUID) ([]record.EntryBody, error) {
	entries, err := bodies(ctx, s.opt.Store, event, record.KindEntry, func(e record.EntryBody) bool { return strings.EqualFold(e.List, list.String()) })
	slices.SortFunc(entries, func(a, b record.EntryBody) int {
		return cmp.Or(cmp.Compare(a.Key, b.Key), record.CompareTeams(a.Team, b.Team))
	})
	return entries, err
}

// pickListDrafts turns picklist.csv into the records that a list should have:
// the rows in their order, and every other team of the list taken off.
func (s *Server) pickListDrafts(ctx context.Context, in *importInput, name string) ([]store.Draft, error) {
	picks, err := table.ReadPickList(name, bytes.NewReader(in.RawBody))
	if err != nil {
		return nil, err
	}
	if err := s.checkTeams(ctx, in.Event, picks, name); err != nil {
		return nil, err
	}
	list, drafts, err := s.listDraft(ctx, in, name)
	if err != nil {
		return nil, err
	}
	present, err := s.entries(ctx, in.Event, list)
	if err != nil {
		return nil, err
	}
	stays := map[record.TeamID]bool{}
	for i, p := range picks {
		stays[p.Team] = true
		drafts = append(drafts, entryDraft(list, p.Team, map[string]any{
			"list": list, "team": p.Team, "key": orderKey(i), "tier": p.Tier,
			"never": p.Never, "reason": p.Reason, "note": p.Note, "removed": false,
		}))
	}
	for _, e := range present {
		if !stays[e.Team] && !e.Removed {
			drafts = append(drafts, entryDraft(list, e.Team, map[string]any{"removed": true}))
		}
	}
	return drafts, nil
}

// listDraft finds the list that is to be filled, or drafts a new one.
func (s *Server) listDraft(ctx context.Context, in *importInput, name string) (uuid.UUID, []store.Draft, error) {
	if in.List != uuid.Nil {
		_, err := s.listRecord(ctx, in.Event, in.List)
		return in.List, nil, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return id, nil, err
	}
	title := []rune(strings.TrimSuffix(name, ".csv"))
	return id, []store.Draft{draft(id, record.KindList, map[string]any{"name": string(title[:min(len(title), record.MaxName)])})}, nil
}

// checkTeams refuses teams that are not at the event.
func (s *Server) checkTeams(ctx context.Context, event uuid.UUID, picks []table.Pick, name string) error {
	teams, _, err := s.opt.Store.Teams(ctx, event)
	if err != nil {
		return err
	}
	known := map[record.TeamID]bool{}
	for _, t := range teams {
		known[t.ID] = true
	}
	var problems table.Errors
	for _, p := range picks {
		if !known[p.Team] {
			problems = append(problems, table.Error{File: name, Column: "team", Message: fmt.Sprintf("team %s (rank %d) is not in the event's team list; correct the number, or add the team there", p.Team, p.Rank)})
		}
	}
	if len(problems) > 0 {
		return problems
	}
	return nil
}

func entryDraft(list uuid.UUID, team record.TeamID, body map[string]any) store.Draft {
	return draft(record.EntryID(list, team), record.KindEntry, body)
}

func draft(id uuid.UUID, kind string, body map[string]any) store.Draft {
	text, err := json.Marshal(body)
	if err != nil {
		panic(err) // plain data
	}
	return store.Draft{RecordID: id, Kind: kind, Body: text}
}

// orderKey is the i-th key (from 0) of a list that is filled from nothing, in
// the form that the app's package fractional-indexing gives and reads: a0 to
// az, then b00 to bzz.
func orderKey(i int) string {
	const digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
	if i < len(digits) {
		return "a" + digits[i:i+1]
	}
	i -= len(digits)
	return "b" + digits[i/len(digits):i/len(digits)+1] + digits[i%len(digits):i%len(digits)+1]
}
