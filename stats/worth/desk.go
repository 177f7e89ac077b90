package worth

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/selection"
)

// Knowledge is what a device needs to tell worths without a server.
type Knowledge struct {
	Game      json.RawMessage    `json:"game" doc:"The game as it is played at this event"`
	Places    []float64          `json:"places" nullable:"false" doc:"What a final place is worth, from the first on"`
	Posterior *contrib.Posterior `json:"posterior" doc:"What is known of all robots together"`
}

// Share makes Knowledge of an estimate. Place is what a final place, from 1, is
// worth; nil: 1 for winning.
func Share(fit *contrib.Fit, place func(int) float64) (*Knowledge, error) {
	text, err := json.Marshal(fit.Game())
	if err != nil {
		return nil, err
	}
	if place == nil {
		place = (&game.EventSettings{}).PlaceWorth
	}
	k := &Knowledge{Game: text, Posterior: fit.Posterior()}
	for n := range selection.RulesOf(fit.Game().Selection).Alliances {
		k.Places = append(k.Places, place(n+1))
	}
	return k, nil
}

// Question is what a board asks: where the selection stands, and how exact an
// answer has to be. Zero SE, Runs and Seed are the usual 0.005, 2000 and 1.
type Question struct {
	Our      record.TeamID    `json:"our"`
	Ranking  []record.TeamID  `json:"ranking"`
	Moves    []selection.Move `json:"moves"` // those that the rules forbid are passed over
	Pins     []Pin            `json:"pins"`
	Never    []record.TeamID  `json:"never"`
	Captains Captains         `json:"captains"`
	SE       float64          `json:"se"`
	Runs     int              `json:"runs"`
	Seed     uint64           `json:"seed"`
}

// The usual exactness of an answer.
const (
	UsualSE          = 0.005
	UsualRuns        = 2000
	UsualSeed uint64 = 1
)

// Desk answers questions from Knowledge, a batch of worlds at a time and on one
// goroutine: what a browser's worker does.
type Desk struct {
	fit    *contrib.Fit
	places []float64
	asked  *Evaluation
	se     float64
	runs   int
}

// NewDesk reads Knowledge as JSON.
func NewDesk(knowledge []byte) (*Desk, error) {
	var k Knowledge
	if err := json.Unmarshal(knowledge, &k); err != nil {
		return nil, fmt.Errorf("what is known of the robots cannot be read: %w", err)
	}
	if k.Posterior == nil {
		return nil, errors.New("nothing is known of the robots")
	}
	g, err := game.Load("game.json", k.Game)
	if err != nil {
		return nil, err
	}
	fit, err := k.Posterior.Fit(g)
	if err != nil {
		return nil, err
	}
	return &Desk{fit: fit, places: k.Places}, nil
}

// Ask takes a Question as JSON; Refine answers it.
func (d *Desk) Ask(question []byte) error {
	var q Question
	if err := json.Unmarshal(question, &q); err != nil {
		return fmt.Errorf("the question cannot be read: %w", err)
	}
	b, err := selection.New(selection.RulesOf(d.fit.Game().Selection), q.Ranking)
	if err != nil {
		return err
	}
	for _, m := range q.Moves {
		_ = b.Move(m) // refused: as if it had not been made, which the board shows
	}
	place := func(n int) float64 {
		if n > len(d.places) {
			return 0
		}
		return d.places[n-1]
	}
	d.asked, err = New(d.fit, b, Options{Our: q.Our, Worth: place, Captains: q.Captains, Pins: q.Pins, Never: q.Never, Seed: cmp.Or(q.Seed, UsualSeed), Workers: 1})
	d.se, d.runs = cmp.Or(q.SE, UsualSE), cmp.Or(q.Runs, UsualRuns)
	return err
}

// Refine draws a batch of worlds more and gives record.Advice as JSON; done
// says that it is as exact as was asked.
func (d *Desk) Refine() (advice []byte, done bool, err error) {
	if d.asked == nil {
		return nil, true, errors.New("nothing was asked")
	}
	a, done, err := d.asked.step(context.Background(), d.se, d.runs)
	if err != nil {
		return nil, true, err
	}
	advice, err = json.Marshal(a)
	return advice, done, err
}
