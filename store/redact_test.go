package store_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// revealing is an event in which everything names somebody or tells a plan.
func revealing(t *testing.T, db *store.DB) uuid.UUID {
	t.Helper()
	body, err := os.ReadFile("../testdata/games/millrace.json") // it asks a question that is answered freely: style
	if err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, func(n *store.NewEvent) { n.GameBody, n.Nickname = body, "Quenby" })
	zo, yves := storetest.Scout(t, db, ev.ID, "Zowie"), storetest.Scout(t, db, ev.ID, "Yves")
	storetest.Scout(t, db, ev.ID, "Xanthe") // never records anything
	matches := storetest.Schedule(t, db, ev.ID, storetest.Teams(t, db, ev.ID, 12), 4)
	results(matches[:2])
	revs, _, err := db.ResultRevisions(ctx, ev.ID, matches, author(lead))
	if err != nil {
		t.Fatal(err)
	}
	must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, matches, revs, store.Replace{}))

	question := uuid.Must(uuid.NewV7())
	storetest.Append(t, db, ev.ID, storetest.Revision(record.KindQuestion, question, lead, record.QuestionBody{Text: "Does it tip over?", Owner: "Yves", AskedOf: record.AskedOfScouts}))
	style, halted := "Yves says: wild", 12.0
	first := storetest.Observation("Q1", "40102", "Zowie", 3)
	first.Note = "Zowie saw smoke"
	first.Answers = map[string]game.Answer{"style": {Text: &style}, "halted": {Number: &halted}}
	first.AnswersTo = map[string]string{question.String(): "no, says Zowie"}
	sent := storetest.Observed(ev.ID, zo, first)
	storetest.Append(t, db, ev.ID, sent)
	// The robots were exchanged: the record says something else and keeps its id.
	moved := first
	moved.Team, moved.Reason = "40103", "Zowie mixed them up"
	storetest.Append(t, db, ev.ID, storetest.Revision(record.KindQuestion, uuid.Must(uuid.NewV7()), lead, record.QuestionBody{Text: "Which robot was it?", AskedOf: record.AskedOfScouts, Record: &sent.RecordID}))
	edit := storetest.Revision(record.KindObservation, sent.RecordID, zo, moved, sent.RevisionID)
	storetest.Append(t, db, ev.ID, edit)
	// Two changed it at once: the higher id counts where nothing else says more.
	for _, stones := range []float64{5, 6} {
		other := storetest.Observation("Q1", "40103", "Zowie", stones)
		it := storetest.Revision(record.KindObservation, sent.RecordID, zo, other, edit.RevisionID)
		it.Lamport = edit.Lamport + 1
		storetest.Append(t, db, ev.ID, it)
	}
	// A file says how two more scouts saw it, and the place that was left.
	rows := []record.Observation{
		storetest.Observation("Q1", "40102", "Zowie", 2), storetest.Observation("Q1", "40102", "Wilmot", 4), storetest.Observation("Q2", "40104", "Vesper", 1),
	}
	imported := must2[[]store.Incoming](t)(db.ObservationRevisions(ctx, ev.ID, testGame(t), rows, author(lead)))
	marks := must2[[]store.Incoming](t)(db.MarkRevisions(ctx, ev.ID, []record.Mark{{Team: "40104", Match: rows[2].Match, Kind: record.MarkRepaired, Note: "Vesper helped"}}, author(lead)))
	storetest.Append(t, db, ev.ID, append(imported, marks...)...)
	storetest.Append(t, db, ev.ID,
		storetest.Revision(record.KindTraining, uuid.Must(uuid.NewV7()), yves, record.Training{Scout: "Yves", Script: record.TrainingScript{Seed: 7, Version: 1, Seconds: 60}}),
		storetest.Revision(record.KindJudgement, record.JudgementID(ev.ID, rows[0].Match, 1, "best", "Yves"), yves,
			record.Judgement{Match: rows[0].Match, Question: "best", Scout: "Yves", Teams: []record.TeamID{"40101", "40102"}, Best: "40101"}),
		storetest.Revision(record.KindRota, record.RotaID(ev.ID), lead, record.RotaBody{People: []record.RotaPerson{{Scout: "Xanthe", Away: true}, {Scout: "Yves"}}, Seats: 6}),
		storetest.Revision(record.KindSeat, record.SeatID(ev.ID, rows[0].Match, "Xanthe"), lead, record.SeatBody{Match: rows[0].Match, Scout: "Xanthe", Team: "40101"}),
		storetest.Revision(record.KindAgreement, uuid.Must(uuid.NewV7()), lead, record.AgreementBody{Match: rows[0].Match, Text: "40102 waits in the middle"}),
		storetest.Revision(record.KindDebrief, record.DebriefID(ev.ID, rows[0].Match, 1, ""), lead, record.DebriefBody{Match: rows[0].Match, Plan: record.Kept}),
		storetest.Revision(record.KindSketch, record.SketchID(ev.ID, rows[0].Match, 20, "40102"), lead, record.SketchBody{Match: rows[0].Match, Second: 20, Team: "40102", Place: &[2]float64{1, 2}}),
		storetest.Revision(record.KindPin, record.PinID(ev.ID, "40101", "40102"), lead, record.PinBody{Captain: "40101", Team: "40102", Kind: record.PinAgreed}),
		storetest.Revision(record.KindRehearsal, uuid.Must(uuid.NewV7()), lead, record.RehearsalBody{Name: "Lift first", Ranking: []record.TeamID{"40101"}}),
		storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, record.NoteBody{Text: "They said it turns fast", Scout: "Xanthe"}),
		storetest.Revision(record.KindList, uuid.Must(uuid.NewV7()), lead, record.ListBody{Name: "Our secret list"}),
		storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, record.NoteBody{Text: "Pick 40107 before others see it"}),
		storetest.Revision("divination", uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "of a newer program"}))
	if err := db.Audit(ctx, ev.ID, lead.ID, "removed a member", map[string]any{"nickname": "Ulric"}); err != nil {
		t.Fatal(err)
	}
	return ev.ID
}

func must2[T any](t *testing.T) func(T, store.Replaced, error) T {
	return func(v T, _ store.Replaced, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

var (
	nicknames = []string{"Quenby", "Zowie", "Yves", "Xanthe", "Wilmot", "Vesper", "Ulric"}
	plans     = []string{"tip over", "secret list", "40107 before", "divination", `"judgement"`, `"rota"`, `"seat"`, "waits in the middle", `"debrief"`, `"sketch"`, `"pin"`, "Lift first", "turns fast", "answers_to"}
)

// given is the redacted export of an event, and what an analysis reads of it
// where it is restored beside the event that it was made of.
func given(t *testing.T, db *store.DB, event uuid.UUID, how store.Redaction) (file string, now uuid.UUID, read *record.Event) {
	t.Helper()
	var out bytes.Buffer
	if err := db.ExportRedacted(t.Context(), event, how, &out); err != nil {
		t.Fatal(err)
	}
	file = out.String()
	done, err := db.ImportNDJSON(t.Context(), strings.NewReader(file), store.Import{})
	if err != nil {
		t.Fatal(err)
	}
	read, _, err = db.Load(t.Context(), done.Event.ID)
	if err != nil {
		t.Fatal(err)
	}
	return file, done.Event.ID, read
}

// TestExportRedacted: what was to be left out stands nowhere, and what was seen
// is all there, under the same rules.
func TestExportRedacted(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	event := revealing(t, db)
	before, _, err := db.Load(t.Context(), event)
	if err != nil {
		t.Fatal(err)
	}
	if whole := export(t, db, event); slices.ContainsFunc(slices.Concat(nicknames, plans), func(s string) bool { return !strings.Contains(whole, s) }) {
		t.Fatal("the event does not reveal everything that this test looks for")
	}
	names := map[string]string{"Zowie": "s01", "Wilmot": "s02", "Vesper": "s03", "Yves": "s04", "Xanthe": "s05"}
	for name, tt := range map[string]struct {
		how     store.Redaction
		gone    []string
		kept    []string
		becomes func(*record.Observation)
	}{
		"People": {store.Redaction{People: true}, nicknames, []string{"tip over", "secret list", "divination", `"judgement"`, `"m01"`, `"owner":"s04"`}, func(o *record.Observation) {
			o.Scout, o.Note, o.Reason, o.AnswersTo = names[o.Scout], "", "", nil
			delete(o.Answers, "style")
		}},
		"Strategy": {store.Redaction{Strategy: true}, append([]string{"Ulric"}, plans...), []string{"Zowie saw smoke", "Yves says: wild", "Vesper helped"}, func(o *record.Observation) { o.AnswersTo = nil }},
		"Both": {store.Redaction{People: true, Strategy: true}, slices.Concat(nicknames, plans), []string{`"s01"`, `"training"`}, func(o *record.Observation) {
			o.Scout, o.Note, o.AnswersTo = names[o.Scout], "", nil
			delete(o.Answers, "style")
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			file, now, got := given(t, db, event, tt.how)
			for _, s := range append(tt.gone, event.String()) {
				if strings.Contains(file, s) {
					t.Errorf("it says %q", s)
				}
			}
			for _, s := range tt.kept {
				if !strings.Contains(file, s) {
					t.Errorf("it does not say %q", s)
				}
			}
			var want []record.Observation
			for _, o := range before.Observations {
				o.Answers = maps.Clone(o.Answers)
				tt.becomes(&o)
				want = append(want, o)
			}
			byKey := func(a, b record.Observation) int { return strings.Compare(a.Key(), b.Key()) }
			slices.SortFunc(want, byKey)
			slices.SortFunc(got.Observations, byKey)
			same(t, "observations", want, got.Observations)
			same(t, "matches and results", before.Matches, got.Matches)
			if len(got.Trainings) != 1 || len(got.Marks) != 1 || tt.how.People && got.Marks[0].Note != "" {
				t.Errorf("trainings %+v, marks %+v", got.Trainings, got.Marks)
			}
			ids(t, db, event, now, tt.how, names)
			if !tt.how.Strategy {
				must[[]store.Kept](t)(db.Revisions(t.Context(), now, record.DebriefID(now, before.Matches[0].ID, 1, "")))
				must[[]store.Kept](t)(db.Revisions(t.Context(), now, record.SketchID(now, before.Matches[0].ID, 20, "40102")))
				must[[]store.Kept](t)(db.Revisions(t.Context(), now, record.PinID(now, "40101", "40102")))
			}
			if scout := names["Xanthe"]; tt.how.People && !tt.how.Strategy {
				must[[]store.Kept](t)(db.Revisions(t.Context(), now, record.RotaID(now)))
				must[[]store.Kept](t)(db.Revisions(t.Context(), now, record.SeatID(now, before.Matches[0].ID, scout)))
			}
		})
	}
}

// ids holds that each record has the id which a device or a file would give it,
// and as many revisions and heads as before.
func ids(t *testing.T, db *store.DB, before, now uuid.UUID, how store.Redaction, names map[string]string) {
	t.Helper()
	id := func(event uuid.UUID, match, team, scout string) uuid.UUID {
		o := storetest.Observation(match, team, scout, 0)
		return record.ObservationID(event, o.Match, 1, o.Team, scout)
	}
	for _, o := range [][3]string{{"Q1", "40102", "Zowie"}, {"Q1", "40102", "Wilmot"}, {"Q2", "40104", "Vesper"}} {
		scout := o[2]
		if how.People {
			scout = names[scout]
		}
		was := must[[]store.Kept](t)(db.Revisions(t.Context(), before, id(before, o[0], o[1], o[2])))
		is := must[[]store.Kept](t)(db.Revisions(t.Context(), now, id(now, o[0], o[1], scout)))
		if len(was) == 0 || len(is) != len(was) {
			t.Errorf("%v: %d revisions, before %d", o, len(is), len(was))
			continue
		}
		place := func(all []store.Kept) (out [][]int) { // of each one's parents
			for _, r := range all {
				parents := []int{}
				for _, p := range r.Parents {
					parents = append(parents, slices.IndexFunc(all, func(k store.Kept) bool { return k.RevisionID == p }))
				}
				out = append(out, parents)
			}
			return out
		}
		if diff := cmp.Diff(place(was), place(is)); diff != "" {
			t.Errorf("%v: parents (-before +now):\n%s", o, diff)
		}
		for i, r := range is {
			if r.RevisionID == was[i].RevisionID || r.RevisionID.Version() != 7 {
				t.Errorf("revision %s of %s tells of what it was made", r.RevisionID, was[i].RevisionID)
			}
		}
	}
}

// TestPseudonyms: a table and a whole event give the same people the same names.
func TestPseudonyms(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	event := revealing(t, db)
	got := must[map[string]string](t)(db.Pseudonyms(t.Context(), event))
	same(t, "names", map[string]string{"Zowie": "s01", "Wilmot": "s02", "Vesper": "s03", "Yves": "s04", "Xanthe": "s05"}, got)
	_, err := db.Pseudonyms(t.Context(), uuid.New())
	wantError(t, err, store.ErrNotFound)
	var out bytes.Buffer
	wantError(t, db.ExportRedacted(t.Context(), uuid.New(), store.Redaction{People: true}, &out), store.ErrNotFound)
	if out.Len() > 0 {
		t.Errorf("wrote %s", out.String())
	}
	if err := db.ExportRedacted(t.Context(), event, store.Redaction{}, &out); err != nil || !json.Valid(bytes.SplitN(out.Bytes(), []byte("\n"), 2)[0]) || !strings.Contains(out.String(), "Zowie") {
		t.Errorf("nothing to leave out: %v", err)
	}
}
