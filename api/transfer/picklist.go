package transfer

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// ErrFrozen says that a pick list is a dated copy, which stays as it was.
var ErrFrozen = errors.New("the pick list is a dated copy")

// ErrNoList says that the event has no pick list of that id.
var ErrNoList = errors.New("there is no such pick list")

// picks reads a pick list in its order.
func picks(ctx context.Context, db *store.DB, event, list uuid.UUID) ([]table.Pick, error) {
	if err := checkList(ctx, db, event, list); err != nil {
		return nil, err
	}
	entries, err := entries(ctx, db, event, list)
	if err != nil {
		return nil, err
	}
	return ranked(entries), nil
}

// ranked are the entries that stand, in the order in which they are called:
// tiers, those without one, those that are never picked. The app shows the same.
func ranked(entries []record.EntryBody) []table.Pick {
	section := func(e *record.EntryBody) int {
		switch {
		case e.Never:
			return math.MaxInt
		case e.Tier == nil:
			return math.MaxInt - 1
		}
		return *e.Tier
	}
	entries = slices.DeleteFunc(slices.Clone(entries), func(e record.EntryBody) bool { return e.Removed })
	slices.SortFunc(entries, func(a, b record.EntryBody) int {
		return cmp.Or(cmp.Compare(section(&a), section(&b)), cmp.Compare(a.Key, b.Key), record.CompareTeams(a.Team, b.Team))
	})
	picks := []table.Pick{}
	for i, e := range entries {
		picks = append(picks, table.Pick{Rank: i + 1, Team: e.Team, Tier: e.Tier, Never: e.Never, Reason: e.Reason, Note: e.Note})
	}
	return picks
}

// checkList is ErrNoList unless there is such a pick list.
func checkList(ctx context.Context, db *store.DB, event, list uuid.UUID) error {
	_, err := readList(ctx, db, event, list)
	return err
}

// readList reads a pick list; ErrNoList: there is none.
func readList(ctx context.Context, db *store.DB, event, list uuid.UUID) (body record.ListBody, err error) {
	r, err := db.Record(ctx, event, list)
	if errors.Is(err, store.ErrNotFound) || err == nil && r.Kind != record.KindList {
		return body, ErrNoList
	}
	if err == nil {
		err = json.Unmarshal(r.Body, &body)
	}
	return body, err
}

// entries are all entries of a list, removed ones too, in no order.
func entries(ctx context.Context, db *store.DB, event, list uuid.UUID) ([]record.EntryBody, error) {
	return bodies(ctx, db, event, record.KindEntry, func(e record.EntryBody) bool { return strings.EqualFold(e.List, list.String()) })
}

// pickListDrafts turns picklist.csv into the records that a list should have:
// the rows in their order, and every other team of the list taken off.
func pickListDrafts(ctx context.Context, db *store.DB, event uuid.UUID, f File) (list uuid.UUID, drafts []store.Draft, err error) {
	teams, _, err := db.Teams(ctx, event)
	if err != nil {
		return list, nil, err
	}
	picks, err := table.LoadPickList(f.Name, bytes.NewReader(f.Body), teams, "the event's team list")
	if err != nil {
		return list, nil, err
	}
	if list, drafts, err = listDraft(ctx, db, event, f); err != nil {
		return list, nil, err
	}
	present, err := entries(ctx, db, event, list)
	if err != nil {
		return list, nil, err
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
	return list, drafts, nil
}

// listDraft finds the list that is to be filled, or drafts a new one.
func listDraft(ctx context.Context, db *store.DB, event uuid.UUID, f File) (uuid.UUID, []store.Draft, error) {
	if f.List != uuid.Nil {
		body, err := readList(ctx, db, event, f.List)
		if err == nil && body.Frozen != nil {
			err = ErrFrozen
		}
		return f.List, nil, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return id, nil, err
	}
	title := []rune(f.Title)
	return id, []store.Draft{draft(id, record.KindList, map[string]any{"name": string(title[:min(len(title), record.MaxName)])})}, nil
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
