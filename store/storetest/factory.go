package storetest

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
)

// Game is a small game file that is valid.
const Game = `{
  "id": "cairn", "name": "Cairn", "version": 1,
  "alliance": {"robots": 3},
  "values": {"full": 3},
  "periods": [{"id": "driver", "name": "Driver-controlled", "seconds": 120}],
  "actions": [
    {"id": "stone", "period": "driver", "name": "Stone on the cairn", "kind": "count", "points": 3, "misses": true},
    {"id": "park", "period": "driver", "name": "Parked", "kind": "choice",
     "options": [{"id": "none", "name": "None", "points": 0}, {"id": "parked", "name": "Parked", "points": 5}]}
  ],
  "components": [{"id": "stones", "count": ["stone"]}],
  "ranking_points": [{"id": "win", "name": "Win", "points": 2, "when": "win"}],
  "ranking_order": ["ranking_points", "score"],
  "questions": [{"id": "stopped", "name": "Seconds stopped", "kind": "number", "min": 0, "max": 120, "when": "match", "role": "stopped_seconds"}]
}`

// Event makes an event with its lead. change may be nil.
func Event(t testing.TB, db *store.DB, change func(*store.NewEvent)) (store.Event, store.Member) {
	t.Helper()
	n := store.NewEvent{Name: "Test Cup", Zone: "America/Chicago", OurTeam: "40101", GameBody: json.RawMessage(Game), Nickname: "lead"}
	if change != nil {
		change(&n)
	}
	ev, lead, err := db.CreateEvent(t.Context(), n)
	if err != nil {
		t.Fatal(err)
	}
	return ev, lead
}

// Scout adds a scout to an event.
func Scout(t testing.TB, db *store.DB, event uuid.UUID, nickname string) store.Member {
	t.Helper()
	m, err := db.AddMember(t.Context(), event, store.NewMember{Role: record.RoleScout, Nickname: nickname})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TeamNo is the i-th team of Teams.
func TeamNo(i int) record.TeamID { return record.TeamID(fmt.Sprint(40101 + i)) }

// Teams gives an event n teams: 40101, 40102, ….
func Teams(t testing.TB, db *store.DB, event uuid.UUID, n int) []record.Team {
	t.Helper()
	teams := make([]record.Team, n)
	for i := range teams {
		teams[i] = record.Team{ID: TeamNo(i), Name: fmt.Sprintf("Team %d", i+1)}
	}
	if _, err := db.ReplaceTeams(t.Context(), event, teams, store.Replace{}); err != nil {
		t.Fatal(err)
	}
	return teams
}

// Matches makes n qualification matches, three robots a side, in which six of
// the teams after one another play.
func Matches(teams []record.Team, n int) []record.Match {
	matches := make([]record.Match, n)
	start := time.Date(2031, 3, 6, 15, 0, 0, 0, time.UTC)
	for i := range matches {
		m := &matches[i]
		*m = record.Match{ID: record.MatchID{Stage: record.Qualification, Number: i + 1}, Play: 1, StartsAt: start.Add(time.Duration(i) * 8 * time.Minute)}
		for k := range 6 {
			side := m.Side([]record.Colour{record.Red, record.Blue}[k/3])
			side.Teams = append(side.Teams, teams[(6*i+k)%len(teams)].ID)
		}
	}
	return matches
}

// Schedule gives an event what Matches makes.
func Schedule(t testing.TB, db *store.DB, event uuid.UUID, teams []record.Team, n int) []record.Match {
	t.Helper()
	matches := Matches(teams, n)
	if _, err := db.ReplaceSchedule(t.Context(), event, matches, nil, store.Replace{}); err != nil {
		t.Fatal(err)
	}
	return matches
}

// Observation is what a scout saw of a robot in a match: so many stones.
func Observation(match, team, scout string, stones float64) record.Observation {
	id, err := record.ParseMatch(match)
	if err != nil {
		panic(err) // the test is wrong
	}
	missed := 1.0
	return record.Observation{
		Match: id, Play: 1, Team: record.TeamID(team), Scout: scout,
		Counts:  map[string]record.Tally{"stone": {Made: &stones, Missed: &missed}},
		Choices: map[string]record.Chosen{"park": {Option: "parked"}},
	}
}

// Revision is a first revision of a record by a member, by way of sync.
func Revision(kind string, recordID uuid.UUID, by store.Member, body any, parents ...uuid.UUID) store.Incoming {
	raw, err := json.Marshal(body)
	if err != nil {
		panic(err) // the test is wrong
	}
	if parents == nil {
		parents = []uuid.UUID{}
	}
	return store.Incoming{
		Revision: record.Revision{
			RevisionID: uuid.Must(uuid.NewV7()), RecordID: recordID, Parents: parents, Kind: kind, Lamport: int64(len(parents) + 1),
			Author: by.Nickname, Role: by.Role, DeviceID: "device-" + by.Nickname,
			MadeAt: time.Date(2031, 3, 6, 15, 4, 5, 123000000, time.UTC), Body: raw,
		},
		MemberID: by.ID, Via: "sync",
	}
}

// Observed is a revision of an observation, in the record of its identity.
func Observed(event uuid.UUID, by store.Member, o record.Observation, parents ...uuid.UUID) store.Incoming {
	return Revision(record.KindObservation, record.ObservationID(event, o.Match, o.Play, o.Team, o.Scout), by, o, parents...)
}

// Append stores revisions and fails the test unless all are stored. It returns
// the event's last change number.
func Append(t testing.TB, db *store.DB, event uuid.UUID, items ...store.Incoming) int64 {
	t.Helper()
	outcomes, changeNo, err := db.Append(t.Context(), event, items)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range outcomes {
		if o.Verdict != store.Stored {
			t.Fatalf("revision %s is %s: %s", o.RevisionID, o.Verdict, o.Reason)
		}
	}
	return changeNo
}
