package store_test

import (
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func TestReplaceTeams(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	evil := "Robert'); drop table team; --<b>"
	first := []record.Team{{ID: "977", Name: "Late"}, {ID: "40101B", Name: "Second", Pit: "B2"}, {ID: "40101", Name: evil, Pit: "B1"}}
	done := must[store.Replaced](t)(db.ReplaceTeams(ctx, ev.ID, first, store.Replace{}))
	same(t, "first", store.Replaced{Added: 3, ChangeNo: ev.ChangeNo + 1}, done)
	teams, version, err := db.Teams(ctx, ev.ID)
	if err != nil || version != done.ChangeNo {
		t.Errorf("version %d, %v", version, err)
	}
	same(t, "in order of number", []record.Team{first[0], first[2], first[1]}, teams)

	done = must[store.Replaced](t)(db.ReplaceTeams(ctx, ev.ID, teams, store.Replace{IfVersion: &version}))
	same(t, "the same list", store.Replaced{ChangeNo: version}, done)
	next := []record.Team{{ID: "977", Name: "Early"}, {ID: "40101", Name: evil, Pit: "B1"}, {ID: "1", Name: "New"}}
	want := store.Replaced{Added: 1, Changed: 1, Removed: 1, ChangeNo: version}
	same(t, "dry run", want, must[store.Replaced](t)(db.ReplaceTeams(ctx, ev.ID, next, store.Replace{IfVersion: &version, DryRun: true})))
	if again, v, err := db.Teams(ctx, ev.ID); err != nil || v != version || len(again) != 3 || again[0].Name != "Late" {
		t.Errorf("the dry run changed %v, version %d, %v", again, v, err)
	}
	want.ChangeNo++
	same(t, "real", want, must[store.Replaced](t)(db.ReplaceTeams(ctx, ev.ID, next, store.Replace{IfVersion: &version})))
	_, err = db.ReplaceTeams(ctx, ev.ID, next, store.Replace{IfVersion: &version})
	wantError(t, err, store.ErrStale)
	_, err = db.ReplaceTeams(ctx, ev.ID, next, store.Replace{IfVersion: &version, DryRun: true})
	wantError(t, err, store.ErrStale)

	for name, bad := range map[string][]record.Team{
		"Twice": {{ID: "1"}, {ID: "1"}}, "Zero": {{ID: "0"}}, "Empty": {{ID: ""}}, "Letters": {{ID: "1AB"}}, "NUL": {{ID: "5", Name: "\x00"}},
	} {
		_, err := db.ReplaceTeams(ctx, ev.ID, bad, store.Replace{})
		if err == nil {
			t.Errorf("%s was taken", name)
			continue
		}
		wantError(t, err, store.ErrInvalid)
	}
	_, err = db.ReplaceTeams(ctx, uuid.New(), next, store.Replace{})
	wantError(t, err, store.ErrNotFound)
	_, _, err = db.Teams(ctx, uuid.New())
	wantError(t, err, store.ErrNotFound)

	done = must[store.Replaced](t)(db.ReplaceTeams(ctx, ev.ID, nil, store.Replace{}))
	if done.Removed != 3 {
		t.Errorf("emptied: %+v", done)
	}
}

func TestTeamsInTheSchedule(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, _ := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 7)
	storetest.Schedule(t, db, ev.ID, teams, 1) // the first six
	must[store.Replaced](t)(db.ReplaceTeams(ctx, ev.ID, teams[:6], store.Replace{}))
	_, err := db.ReplaceTeams(ctx, ev.ID, teams[1:6], store.Replace{})
	wantError(t, err, store.ErrConflict)
	if left, _, err := db.Teams(ctx, ev.ID); err != nil || len(left) != 6 {
		t.Errorf("%d teams are left, %v", len(left), err)
	}
	_, err = db.ReplaceSchedule(ctx, ev.ID, storetest.Matches(teams[1:], 1), nil, store.Replace{})
	wantError(t, err, store.ErrInvalid)
}

// results gives matches results that follow from their number.
func results(matches []record.Match) {
	for i := range matches {
		from, rp := 4.0, 2.0
		matches[i].Red.Result = &record.Result{Score: float64(50 + i), FromFouls: &from, Components: map[string]float64{"stones": 3}, RankingPoints: &rp}
		matches[i].Blue.Result = &record.Result{Score: float64(40 + i), Robots: map[string][]string{"park": {"parked", "", "none"}}}
		matches[i].Blue.Absent = matches[i].Blue.Teams[:1]
	}
}

func TestReplaceSchedule(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 12)
	by := store.By{Author: lead.Nickname, MemberID: lead.ID, Role: lead.Role, Via: "import"}
	matches := storetest.Matches(teams, 12)
	matches[0].Red.Surrogates = matches[0].Red.Teams[2:3]
	matches[1].StartsAt = time.Time{}
	replay := matches[11]
	replay.Play, replay.Red.Teams = 2, slices.Clone(replay.Red.Teams)
	slices.Reverse(replay.Red.Teams)
	practice := matches[0]
	practice.ID.Stage, practice.Red.Surrogates = record.Practice, nil
	final := matches[3]
	final.ID = record.MatchID{Stage: record.Final, Number: 1}
	given := append([]record.Match{final, replay}, matches...)
	given = append(given, practice)
	playing := append([]record.Match{practice}, matches...)
	playing = append(playing, replay, final)

	done := must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, given, nil, store.Replace{}))
	if done.Added != 15 || done.Changed != 0 || done.Removed != 0 {
		t.Errorf("got %+v", done)
	}
	got, version, err := db.Schedule(ctx, ev.ID)
	if err != nil || version != done.ChangeNo {
		t.Fatalf("version %d, %v", version, err)
	}
	// Times come back in the event's zone: Chicago is 6 hours behind in winter.
	if text := got[0].StartsAt.Format(time.RFC3339); text != "2031-03-06T09:00:00-06:00" {
		t.Errorf("starts at %s", text)
	}
	same(t, "schedule", playing, inUTC(got))

	t.Run("Same", func(t *testing.T) {
		again := must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, got, nil, store.Replace{IfVersion: &version}))
		same(t, "nothing", store.Replaced{ChangeNo: version}, again)
	})
	t.Run("Results", func(t *testing.T) {
		results(playing[:3])
		revs, _, err := db.ResultRevisions(ctx, ev.ID, playing, by)
		if err != nil || len(revs) != 6 {
			t.Fatalf("%d revisions, %v", len(revs), err)
		}
		dry := must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, playing, revs, store.Replace{IfVersion: &version, DryRun: true}))
		same(t, "dry run", store.Replaced{Changed: 3, ChangeNo: version}, dry)
		if all := must[[]store.Record](t)(db.Records(ctx, ev.ID, store.Filter{})); len(all) != 0 {
			t.Fatalf("the dry run left %d records", len(all))
		}
		done := must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, playing, revs, store.Replace{IfVersion: &version}))
		same(t, "real", store.Replaced{Changed: 3, ChangeNo: version + 6}, done)
		got, same2, err := db.Schedule(ctx, ev.ID)
		if err != nil || same2 != version {
			t.Errorf("results moved the version from %d to %d, %v", version, same2, err)
		}
		same(t, "schedule", playing, inUTC(got))

		revs, diff, err := db.ResultRevisions(ctx, ev.ID, got, by)
		if err != nil || len(revs) != 0 || diff.Added+diff.Changed != 0 {
			t.Errorf("the same results make %d revisions, %+v, %v", len(revs), diff, err)
		}
	})
	t.Run("ResultOutlivesItsMatch", func(t *testing.T) {
		without := slices.DeleteFunc(slices.Clone(playing), func(m record.Match) bool { return m.ID == playing[1].ID })
		done := must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, without, nil, store.Replace{}))
		if done.Removed != 1 {
			t.Errorf("got %+v", done)
		}
		must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, playing, nil, store.Replace{}))
		got, _, err := db.Schedule(ctx, ev.ID)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "schedule", playing, inUTC(got))
	})
	t.Run("Discarded", func(t *testing.T) {
		id := record.ResultID(ev.ID, playing[0].ID, 1, record.Red)
		old := must[store.Record](t)(db.Record(ctx, ev.ID, id))
		body := *record.BodyOf(&playing[0], record.Red)
		body.Discarded = true
		storetest.Append(t, db, ev.ID, storetest.Revision(record.KindResult, id, lead, body, old.Heads...))
		got, _, err := db.Schedule(ctx, ev.ID)
		if err != nil || got[0].Red.Result != nil || got[0].Played() || got[0].Blue.Result == nil {
			t.Errorf("got %+v, %v", got[0], err)
		}
		// Stated again, it counts again.
		revs, _, err := db.ResultRevisions(ctx, ev.ID, playing, by)
		if err != nil || len(revs) != 1 || revs[0].RecordID != id {
			t.Errorf("%d revisions, %v", len(revs), err)
		}
	})
}

func inUTC(matches []record.Match) []record.Match {
	out := slices.Clone(matches)
	for i := range out {
		if !out[i].StartsAt.IsZero() {
			out[i].StartsAt = out[i].StartsAt.UTC()
		}
	}
	return out
}

func TestReplaceScheduleRefuses(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 12)
	before := storetest.Schedule(t, db, ev.ID, teams, 3)
	_, version, err := db.Schedule(ctx, ev.ID)
	if err != nil {
		t.Fatal(err)
	}
	good := storetest.Revision(record.KindResult, uuid.New(), lead, record.ResultBody{Match: before[0].ID, Play: 1, Alliance: record.Red, Score: 1})
	bad := good
	bad.Role = ""
	stale := version - 1
	tests := map[string]struct {
		change  func([]record.Match) []record.Match
		results []store.Incoming
		how     store.Replace
		want    error
		text    string
	}{
		"MatchTwice":    {func(m []record.Match) []record.Match { return append(m, m[0]) }, nil, store.Replace{}, store.ErrInvalid, "Q1"},
		"TeamTwice":     {func(m []record.Match) []record.Match { m[1].Blue.Teams[0] = m[1].Red.Teams[0]; return m }, nil, store.Replace{}, store.ErrInvalid, "Q2"},
		"UnknownTeam":   {func(m []record.Match) []record.Match { m[1].Blue.Teams[0] = "999"; return m }, nil, store.Replace{}, store.ErrInvalid, "not in the team list"},
		"NoTeam":        {func(m []record.Match) []record.Match { m[1].Blue.Teams[0] = "'; --"; return m }, nil, store.Replace{}, store.ErrInvalid, "team"},
		"Surrogate":     {func(m []record.Match) []record.Match { m[2].Red.Surrogates = m[2].Blue.Teams; return m }, nil, store.Replace{}, store.ErrInvalid, "surrogate"},
		"Stage":         {func(m []record.Match) []record.Match { m[0].ID.Stage = "X"; return m }, nil, store.Replace{}, store.ErrInvalid, ""},
		"Stale":         {func(m []record.Match) []record.Match { return m[:1] }, []store.Incoming{good}, store.Replace{IfVersion: &stale}, store.ErrStale, ""},
		"RefusedResult": {func(m []record.Match) []record.Match { return m[:1] }, []store.Incoming{good, bad}, store.Replace{}, store.ErrInvalid, "no role"},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := db.ReplaceSchedule(ctx, ev.ID, test.change(storetest.Matches(teams, 3)), test.results, test.how)
			if wantError(t, err, test.want); err != nil && !strings.Contains(err.Error(), test.text) {
				t.Errorf("%v does not say %q", err, test.text)
			}
		})
	}
	_, err = db.ReplaceSchedule(ctx, uuid.New(), nil, nil, store.Replace{})
	wantError(t, err, store.ErrNotFound)
	_, _, err = db.Schedule(ctx, uuid.New())
	wantError(t, err, store.ErrNotFound)
	got, v, err := db.Schedule(ctx, ev.ID)
	if err != nil || v != version {
		t.Errorf("version %d, %v: something was written", v, err)
	}
	same(t, "schedule", before, inUTC(got))
	if all := must[[]store.Record](t)(db.Records(ctx, ev.ID, store.Filter{})); len(all) != 0 {
		t.Errorf("%d records are left", len(all))
	}
}

// TestScheduleAndSyncAtOnce: a schedule with results and devices that send the
// same results at the same time get in each other's way and all succeed.
func TestScheduleAndSyncAtOnce(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 12)
	matches := storetest.Matches(teams, 10)
	results(matches)
	by := store.By{Author: lead.Nickname, MemberID: lead.ID, Role: lead.Role}
	var wg sync.WaitGroup
	for side := range 6 {
		wg.Go(func() {
			for round := range 8 {
				mine := slices.Clone(matches[:3+(side+round)%7])
				revs, _, err := db.ResultRevisions(ctx, ev.ID, mine, by)
				if err == nil && side%2 == 0 {
					_, err = db.ReplaceSchedule(ctx, ev.ID, mine, revs, store.Replace{})
				} else if err == nil {
					slices.Reverse(revs)
					_, _, err = db.Append(ctx, ev.ID, revs)
				}
				if err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
	must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, matches, nil, store.Replace{}))
	got, _, err := db.Schedule(ctx, ev.ID)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "schedule", matches[:9], inUTC(got)[:9])
	numbers := numbersOf(feed(t, db, ev.ID, 0, store.Viewer{Role: record.RoleLead}))
	for i, n := range numbers {
		if n != int64(i+1) {
			t.Fatalf("change %d has number %d", i+1, n)
		}
	}
}
