package api

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// secret are texts that stand only in what a scout must not see, and that no
// random id has by chance.
var secret = []string{
	"another-scout", "123456.5", "SECRET-LIST", "SECRET-REASON", "SECRET-NOTE", "SECRET-MARK", "SECRET-QUESTION",
	"worth", leadName, "opponent_points\":0.5", "\"sd\"", "\"chance\"", "coach-nick",
}

// TestScoutSeesOnlyTheOwn fills an event with everything and collects every
// byte that a scout can get: reads, the feed, the stream, refusals.
func TestScoutSeesOnlyTheOwn(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(8, 4)
	lead.send("PATCH", ".", map[string]any{"overrides": map[string]any{"worth": map[string]any{"1": 1}}}).want(200)
	csv := matchesCSV(8, 4)
	lead.send("PUT", ".matches", strings.Replace(csv, "Q1,2031-03-06T09:00:00-06:00,red,40101 40102 40103,", "Q1,2031-03-06T09:00:00-06:00,red,40101 40102 40103,123456.5", 1), "Content-Type", csvType).want(200)
	if a := lead.get(".matches").want(200); !strings.Contains(string(a.body), "123456.5") {
		t.Fatal("the test's score is not in the schedule")
	}
	other := lead.join("scout", "another-scout")
	coach := lead.join("coach", "coach-nick")
	hidden := other.observation("Q1", "40101", "another-scout", 1)
	if got := other.push(hidden); got.Items[0].Outcome != "stored" {
		t.Fatalf("push: %+v", got.Items[0].Problem)
	}
	list := uuid.Must(uuid.NewV7())
	one := func(kind string, id uuid.UUID, body map[string]any) sentRevision {
		return sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Parents: []uuid.UUID{}, Kind: kind, Lamport: 1, MadeAt: time.Now(), Body: mustJSON(t, body)}
	}
	for _, o := range lead.push(
		one("list", list, map[string]any{"name": "SECRET-LIST"}),
		one("entry", record.EntryID(list, "40102"), map[string]any{"list": list, "team": "40102", "key": "a0", "never": true, "reason": "SECRET-REASON"}),
		one("note", uuid.Must(uuid.NewV7()), map[string]any{"text": "SECRET-NOTE"}),
		one("question", uuid.Must(uuid.NewV7()), map[string]any{"team": "40101", "text": "SECRET-QUESTION"}),
		one("question", uuid.Must(uuid.NewV7()), map[string]any{"team": "40101", "text": "SECRET-QUESTION", "asked_of": "leads"}),
		one("mark", uuid.Must(uuid.NewV7()), map[string]any{"team": "40101", "match": "Q2", "kind": "changed", "note": "SECRET-MARK"}),
	).Items {
		if o.Outcome != "stored" {
			t.Fatalf("push: %+v", o.Problem)
		}
	}
	coach.get(".estimates").want(200)

	scout := lead.join("scout", "s03")
	own := scout.observation("Q1", "40102", "s03", 1)
	var seen []byte
	collect := func(a *answer) *answer {
		seen = append(seen, a.body...)
		for name, values := range a.header {
			seen = append(seen, name+strings.Join(values, " ")...)
		}
		return a
	}
	collect(scout.send("POST", ".sync", map[string]any{"protocol": 1, "device": "d", "items": []any{own}}).want(200))
	for path, methods := range document(t).Paths {
		if _, ok := methods["get"]; !ok || strings.HasSuffix(path, "/changes") {
			continue
		}
		for _, id := range []string{hidden.RecordID.String(), own.RecordID.String(), list.String()} {
			collect(scout.get(strings.NewReplacer("{event}", scout.event.String(), "{match}", "Q1", "{record}", id).Replace(path)))
		}
	}
	for _, query := range []string{".records?kind=observation&match=Q1", ".records?team=40101", ".records?kind=list", ".sync?after=0"} {
		collect(scout.get(query).want(200))
	}
	// Refusals: another's record, known and made up, are told alike.
	intrude := func(record uuid.UUID, parents ...uuid.UUID) outcome {
		r := scout.observation("Q1", "40101", "s03", 5)
		r.RecordID, r.Parents = record, parents
		a := collect(scout.send("POST", ".sync", map[string]any{"protocol": 1, "device": "d", "items": []any{r}}).want(200))
		var out pushed
		a.want(200, &out)
		out.Items[0].RevisionID = ""
		return out.Items[0]
	}
	there, madeUp := intrude(hidden.RecordID, hidden.RevisionID), intrude(uuid.New(), uuid.Must(uuid.NewV7()))
	if there.Outcome != "refused" || there.Problem.Detail != madeUp.Problem.Detail || there.Problem.Status != madeUp.Problem.Status {
		t.Errorf("another's record is told from one that does not exist: %+v, %+v", there.Problem, madeUp.Problem)
	}
	for _, word := range secret {
		if i := strings.Index(string(seen), word); i >= 0 {
			t.Errorf("a scout got to see %q: …%s…", word, seen[max(0, i-200):min(len(seen), i+100)])
		}
	}
	for _, word := range []string{"40101", "s03", own.RecordID.String()} {
		if !strings.Contains(string(seen), word) {
			t.Errorf("a scout did not get to see %q: the test looks at nothing", word)
		}
	}
	for _, id := range []uuid.UUID{hidden.RecordID, hidden.RevisionID, list} {
		if strings.Contains(string(seen), id.String()) {
			t.Errorf("a scout got to see the id %s of what is hidden", id)
		}
	}
}

// TestScoutsFeedIsTheOwn reads the feed page by page, as a device does.
func TestScoutsFeedIsTheOwn(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(6, 2)
	a, b := lead.join("scout", "sa"), lead.join("scout", "sb")
	var mine []uuid.UUID
	for i := range 6 {
		r := a.observation("Q"+string(rune('1'+i)), teamNo(i), "sa", int64(i+1))
		mine = append(mine, r.RecordID)
		a.push(r)
		b.push(b.observation("Q"+string(rune('1'+i)), teamNo(i), "sb", int64(i+1)))
	}
	var got []uuid.UUID
	after := int64(0)
	for {
		var page struct {
			Items []feedItem
			Next  int64
		}
		a.get(".sync?limit=2&after="+json.Number(mustJSON(t, after)).String()).want(200, &page)
		if len(page.Items) == 0 {
			break
		}
		if page.Next <= after {
			t.Fatalf("next is %d after %d", page.Next, after)
		}
		after = page.Next
		for _, item := range page.Items {
			switch {
			case item.Kind == "members":
				t.Error("a scout is told of changes of members")
			case item.Revision != nil:
				got = append(got, item.Revision.RecordID)
			}
		}
	}
	if len(got) != len(mine) {
		t.Errorf("%d records in the feed, want the %d own ones", len(got), len(mine))
	}
	// Corrected by the lead, the own record stays in the scout's feed.
	fix := lead.observation("Q1", teamNo(0), "sa", 50)
	fix.RecordID = mine[0]
	fix.Parents = []uuid.UUID{}
	if o := lead.push(fix).Items[0]; o.Outcome != "stored" {
		t.Fatalf("%+v", o.Problem)
	}
	var page struct{ Items []feedItem }
	a.get(".sync?after="+json.Number(mustJSON(t, after)).String()).want(200, &page)
	if len(page.Items) != 1 || page.Items[0].Revision.Role != "lead" {
		t.Errorf("after the lead's correction the scout's feed has %+v", page.Items)
	}
	if status := a.get(".records/" + mine[0].String() + "/revisions").status; status != http.StatusOK {
		t.Errorf("the history of the own record answers %d", status)
	}
}

// TestScoutSeesWhatIsAsked: a question that is asked of scouts is part of what
// goes out to their tablets, and so is the news that it is settled; one among
// leads is not, nor what others judged or trained. A scout writes none, and
// judges and trains in no other's name.
func TestScoutSeesWhatIsAsked(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(6, 2)
	scout, other := lead.join("scout", "sa"), lead.join("scout", "sb")
	rev := func(kind string, id uuid.UUID, lamport int64, body map[string]any, parents ...uuid.UUID) sentRevision {
		return sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Parents: append([]uuid.UUID{}, parents...), Kind: kind, Lamport: lamport, MadeAt: time.Now(), Body: mustJSON(t, body)}
	}
	asked, among := uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())
	first := rev("question", asked, 1, map[string]any{"team": "40101", "text": "Does it lift?", "asked_of": "scouts"})
	settled := rev("question", asked, 2, map[string]any{"team": "40101", "text": "Does it lift?", "done": true}, first.RevisionID)
	hidden := rev("question", among, 1, map[string]any{"team": "40101", "text": "Do we want it?"})
	judged := func(name, by string) sentRevision {
		id := record.JudgementID(scout.event, record.MatchID{Stage: record.Qualification, Number: 1}, 1, "driving", by)
		return rev("judgement", id, 1, map[string]any{"match": "Q1", "question": "driving", "scout": name, "teams": []string{"40101", "40102"}, "best": "40101"})
	}
	trained := func(name string) sentRevision {
		return rev("training", uuid.Must(uuid.NewV7()), 1, map[string]any{"scout": name, "script": map[string]any{"seed": 1, "version": 1, "seconds": 40}, "truth": map[string]any{"deck": map[string]any{"made": 5}}, "seen": map[string]any{"deck": map[string]any{"made": 4}}})
	}
	outcomes := func(got []outcome) (out []string) {
		for _, o := range got {
			out = append(out, o.Outcome)
		}
		return out
	}
	if got := outcomes(lead.push(first, hidden).Items); !slices.Equal(got, []string{"stored", "stored"}) {
		t.Fatalf("the lead's questions were %v", got)
	}
	var listed struct{ Records []recordView }
	if scout.get(".records?kind=question").want(200, &listed); len(listed.Records) != 1 || listed.Records[0].RecordID != asked {
		t.Errorf("a scout lists the questions %+v", listed.Records)
	}
	if o := lead.push(settled).Items[0]; o.Outcome != "stored" {
		t.Fatalf("the lead settles it: %+v", o.Problem)
	}
	if got := outcomes(other.push(judged("sb", "sb"), trained("sb")).Items); !slices.Equal(got, []string{"stored", "stored"}) {
		t.Fatalf("another's judgement and training were %v", got)
	}
	if got := outcomes(scout.push(judged("sa", "sa"), trained("sa")).Items); !slices.Equal(got, []string{"stored", "stored"}) {
		t.Errorf("the own judgement and training were %v", got)
	}
	stolen := judged("sb", "sa")
	stolen.RecordID = record.JudgementID(scout.event, record.MatchID{Stage: record.Qualification, Number: 1}, 2, "driving", "sb")
	if got := outcomes(scout.push(stolen, trained("sb"), rev("question", uuid.Must(uuid.NewV7()), 1, map[string]any{"text": "x"})).Items); !slices.Equal(got, []string{"refused", "refused", "refused"}) {
		t.Errorf("in another's name, and a question by a scout: %v", got)
	}
	var page struct{ Items []feedItem }
	scout.get(".sync?after=0").want(200, &page)
	kinds := map[string]int{}
	for _, item := range page.Items {
		if item.Revision != nil {
			kinds[item.Revision.Kind]++
			if item.Revision.RecordID == among {
				t.Error("a scout gets a question that is among leads")
			}
		}
	}
	if kinds["question"] != 2 || kinds["judgement"] != 1 || kinds["training"] != 1 {
		t.Errorf("the scout's feed has %v, want both versions of the question and the own judgement and training", kinds)
	}
	if status := scout.get(".judgements").status; status != http.StatusForbidden {
		t.Errorf("a scout asks for the scales and gets %d", status)
	}
	var scales judgements
	lead.get(".judgements").want(200, &scales)
	if len(scales.Scales) != 1 || scales.Scales[0].Question != "driving" || scales.Scales[0].Judgements != 2 || scales.Scales[0].Teams[0].Team != "40101" {
		t.Errorf("the lead's scales: %+v", scales.Scales)
	}
}
