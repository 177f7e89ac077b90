package record_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sextant/stats/game"
	"sextant/stats/record"
)

// load reads a game of testdata/games.
func load(t testing.TB, name string) *game.Game {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "games", name))
	if err != nil {
		t.Fatal(err)
	}
	g, err := game.Load(name, data)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestCheckBody(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	tests := []struct {
		name, kind, body string
		want             []string // pointers
	}{
		{"Observation", "observation", `{"match":"Q1","play":1,"team":"40117","scout":"s03","counts":{"deck":{"made":5,"missed":1},"cast_off":{"made":1}},"choices":{"mooring":{"option":"lifted"}},"fouls":{"minor":0},"answers":{"start":"left","stopped":0},"note":"x","taps":[[1200,"deck",1],[1300,"deck_missed",1,2.5,3]]}`, nil},
		{"Absent", "observation", `{"match":"Q1","team":"40117","scout":"s03","absent":true}`, nil},
		{"Part", "observation", `{"match":"Q1","team":"40117","scout":"s03","from":62000,"to":153000,"taps":[[0,"start",1,2.5,3]]}`, nil},
		{"PartBackwards", "observation", `{"match":"Q1","team":"40117","scout":"s03","from":62000,"to":1000}`, []string{"/to"}},
		{"PartBad", "observation", `{"match":"Q1","team":"40117","scout":"s03","from":-1,"to":1.5}`, []string{"/from", "/to"}},
		{"PartAbsent", "observation", `{"match":"Q1","team":"40117","scout":"s03","absent":true,"to":9}`, []string{"/to"}},
		{"AbsentSaw", "observation", `{"match":"Q1","team":"40117","scout":"s03","absent":true,"counts":{"deck":{"made":0}}}`, []string{"/counts"}},
		{"NeedsTeam", "observation", `{"match":"Q1","scout":"s03"}`, []string{""}},
		{"Counts", "observation", `{"match":"Q1","team":"40117","scout":"s03","counts":{"deck":{"made":-1},"hold":{"made":1.5,"missed":1000},"pennant":{"made":1,"missed":1},"cast_off":{"made":2},"mooring":{"made":1}}}`,
			[]string{"/counts/cast_off/made", "/counts/deck/made", "/counts/hold/made", "/counts/hold/missed", "/counts/mooring", "/counts/pennant/missed"}},
		{"Infinite", "observation", `{"match":"Q1","team":"40117","scout":"s03","counts":{"deck":{"made":1e999}}}`, []string{"/counts/deck/made"}},
		{"NaN", "observation", `{"match":"Q1","team":"40117","scout":"s03","counts":{"deck":{"made":NaN}}}`, []string{""}},
		{"Twice", "observation", `{"match":"Q1","team":"40117","scout":"s03","scout":"s04"}`, []string{"/scout"}},
		{"Fraction", "observation", `{"match":"Q1","play":1.0,"team":"40117","scout":"s03"}`, []string{""}},
		{"Result", "result", `{"match":"Q1","alliance":"red","score":96,"from_fouls":4,"components":{"finish":14},"robots":{"mooring":["lifted","","none"]},"absent":["40117"]}`, nil},
		{"ResultBad", "result", `{"match":"Q0","alliance":"green","score":"96","components":{"deck":1},"robots":{"mooring":["flying"]},"cards":["1","1"]}`,
			[]string{"/alliance", "/cards/1", "/components/deck", "/match", "/robots/mooring/0", "/score"}},
		{"Mark", "mark", `{"team":"40117","match":"Q5","kind":"repaired"}`, nil},
		{"MarkKind", "mark", `{"team":"40117","match":"Q5","kind":"sunk"}`, []string{"/kind"}},
		{"EntryPatch", "entry", `{"tier":null}`, nil},
		{"EntryBad", "entry", `{"tier":-1,"key":"a b","list":"x","colour":1}`, []string{"/colour", "/key", "/list", "/tier"}},
		{"Selection", "selection", `{"step":3,"round":1,"captain":"40101","invites":"40115","answer":"declines"}`, nil},
		{"SelectionBad", "selection", `{"step":0,"round":1.5,"captain":"A","answer":"perhaps","backup":1}`, []string{"/answer", "/backup", "/captain", "/round", "/step"}},
		{"SelectionNeeds", "selection", `{"step":1}`, []string{"", ""}},
		{"Question", "question", `{"team":"40117","match":"Q5","text":"Does it lift?","owner":"Ada","asked_of":"scouts","record":"019b0000-0000-7000-8000-000000000001"}`, nil},
		{"QuestionBad", "question", `{"team":"x","asked_of":"everybody","done":1,"record":"ana"}`, []string{"", "/asked_of", "/done", "/record", "/team"}},
		{"AnswersTo", "observation", `{"match":"Q1","team":"40117","scout":"s03","answers_to":{"018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f":"yes"}}`, nil},
		{"AnswersToBad", "observation", `{"match":"Q1","team":"40117","scout":"s03","answers_to":{"7":"yes","018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f":true}}`,
			[]string{"/answers_to/018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f", "/answers_to/7"}},
		{"AbsentAnswered", "observation", `{"match":"Q1","team":"40117","scout":"s03","absent":true,"answers_to":{"018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f":"no"}}`, nil},
		{"Training", "training", `{"scout":"s03","script":{"seed":7,"version":1,"seconds":40.5},"truth":{"deck":{"made":5,"missed":1},"mooring:lifted":{"made":1}},"seen":{"deck":{"made":4}}}`, nil},
		{"TrainingBad", "training", `{"scout":"","script":{"seed":0.5,"version":0,"seconds":0},"truth":{"deck":{"made":-1},"mooring":{"made":1},"mooring:flown":{"made":1}},"seen":{"mooring:lifted":{"made":2}}}`,
			[]string{"/scout", "/script/seconds", "/script/seed", "/script/version", "/seen/mooring:lifted/made", "/truth/deck/made", "/truth/mooring", "/truth/mooring:flown"}},
		{"Judgement", "judgement", `{"match":"Q5","question":"driving","scout":"s03","teams":["40117","40118","40119"],"best":"40118","worst":"40117"}`, nil},
		{"NoDifference", "judgement", `{"match":"Q5","question":"driving","scout":"s03","teams":["40117","40118"]}`, nil},
		{"JudgementBad", "judgement", `{"match":"Q5","question":"start","scout":"s03","teams":["40117","40117"],"best":"40118","worst":"40118"}`,
			[]string{"/question", "/teams/1", "/best", "/worst", "/worst"}},
		{"Rota", "rota", `{"people":[{"scout":"s03","shifts":[{"from":"Q1","to":"Q30"}],"away":true},{"scout":"s04"}],"seats":6,"row":8,"rest":2,"not_ours":true,"weights":{"brief":2}}`, nil},
		{"RotaBad", "rota", `{"people":[{"scout":"s03","shifts":[{"from":"Q1"}]},{"scout":"s03"}],"seats":0,"row":-1,"weights":{"luck":1,"list":-1}}`,
			[]string{"/people/0/shifts/0", "/people/1/scout", "/row", "/seats", "/weights/list", "/weights/luck"}},
		{"Pit", "pit", `{"team":"40117","scout":"s03","answers":{"claim":8,"drive":"six wheels"},"photos":["` + strings.Repeat("0a", 32) + `"],"routines":[{"name":"two","start":"left","path":[[1,2.5]]}],"again":true}`, nil},
		{"PitBad", "pit", `{"team":"40117","scout":"s03","answers":{"start":"left"},"photos":["x"],"routines":[{"start":"moon","path":[[1],[1,999]]}]}`,
			[]string{"/answers/start", "/photos/0", "/routines/0", "/routines/0/path/0", "/routines/0/path/1/1", "/routines/0/start"}},
		{"Seat", "seat", `{"match":"Q5","scout":"s03","team":"40117","reason":{"kind":"against_us","match":"Q9","seen":2}}`, nil},
		{"SeatOfNobody", "seat", `{"match":"Q5","scout":"s03"}`, nil},
		{"SeatBad", "seat", `{"match":"Q5","scout":"s03","team":"x","reason":{"kind":"luck","seen":-1}}`, []string{"/reason/kind", "/reason/seen", "/team"}},
		{"JudgementAlone", "judgement", `{"match":"Q5","question":"driving","scout":"s03","teams":["40117"]}`, []string{"/teams"}},
		{"JudgementMany", "judgement", `{"match":"Q5","question":"driving","scout":"s03","teams":["1","2","3","4","5","6","7"]}`, []string{"/teams"}},
		{"Pin", "pin", `{"captain":"40101","team":"40117","kind":"agreed"}`, nil},
		{"PinBad", "pin", `{"captain":"x","team":"40117","kind":"loves","removed":0}`, []string{"/captain", "/kind", "/removed"}},
		{"Rehearsal", "rehearsal", `{"name":"Lift first","our":"40101","ranking":["40101","40102"],"moves":[{"captain":"40101","round":1,"invites":"40102","answer":"accepts"}],"calls":[{"team":"40102","worth":0.14,"best":"40102","best_worth":0.14,"se":0}]}`, nil},
		{"RehearsalBad", "rehearsal", `{"name":" ","ranking":["x"],"moves":[{"captain":"40101"}],"calls":[{"team":"40102","worth":"much","best":"40102","best_worth":1,"se":0}]}`,
			[]string{"/calls/0/worth", "/moves/0", "/name", "/ranking/0"}},
		{"Frozen", "list", `{"name":"First picks","frozen":"2031-03-06T21:15:00Z"}`, nil},
		{"FrozenBad", "list", `{"frozen":"yesterday"}`, []string{"/frozen"}},
		{"Pinned", "note", `{"team":"40117","match":"Q5","text":"lifts in four seconds","list":"018f3c2e-7b1a-7c3d-9e4f-1a2b3c4d5e6f","scout":"s03"}`, nil},
		{"PinnedBad", "note", `{"text":"x","list":"first","scout":""}`, []string{"/list", "/scout"}},
		{"Agreement", "agreement", `{"match":"Q5","team":"40117","text":"Starts left","kept":"partly"}`, nil},
		{"AgreementPatch", "agreement", `{"kept":null,"removed":true}`, nil},
		{"AgreementBad", "agreement", `{"match":"5","team":"x","text":" ","kept":"perhaps","by":"Ada"}`, []string{"/by", "/kept", "/match", "/team", "/text"}},
		{"Debrief", "debrief", `{"match":"P5","play":2,"team":"40117","again":"unsure"}`, nil},
		{"DebriefBad", "debrief", `{"match":"Q5","play":1.5,"plan":"kept?","broke":7,"again":true}`, []string{"/again", "/broke", "/plan", "/play"}},
		{"Sketch", "sketch", `{"match":"Q5","second":20,"team":"40117","place":[3.25,8]}`, nil},
		{"Stroke", "sketch", `{"match":"Q5","second":0,"ink":[[0,0],[1.5,2]]}`, nil},
		{"SketchBad", "sketch", `{"match":"Q5","second":-1,"place":[1],"ink":[[1,"x"],[2,-1]],"text":""}`,
			[]string{"/ink/0/1", "/ink/1/1", "/place", "/second", "/text"}},
		{"SketchFar", "sketch", `{"place":[3,1001],"ink":7}`, []string{"/ink", "/place/1"}},
		{"Playoff", "playoff", `{"match":"P4","red":{"time_out":true,"backup":"40130","sat_out":[{"team":"40117","why":"drive broken"}]},"blue":{},"note":"five minutes late"}`, nil},
		{"PlayoffBad", "playoff", `{"match":"X4","red":{"time_out":1,"backup":"x","sat_out":[{"why":"drive broken"}],"cards":[]}}`,
			[]string{"", "/match", "/red/backup", "/red/cards", "/red/sat_out/0", "/red/time_out"}},
		{"Unknown", "weather", `{}`, []string{""}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := record.CheckBody(g, tt.kind, []byte(tt.body))
			if len(got) != len(tt.want) {
				t.Fatalf("CheckBody: %v, want pointers %q", got, tt.want)
			}
			for i, p := range got {
				if p.Pointer != tt.want[i] {
					t.Errorf("problem %d: %v, want pointer %q", i, p, tt.want[i])
				}
			}
		})
	}
}
