package engine

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"

	"github.com/google/uuid"

	"sextant/stats/bracket"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/standings"
	"sextant/stats/worth"
	"sextant/store"
)

// ErrNoSelection says that there is no selection to speak of yet: nothing is
// known of any robot, there are fewer teams than alliances, or for a bracket
// the alliances are not formed.
var ErrNoSelection = errors.New("there are no alliances yet")

// SelectionError is a request for advice that cannot be followed.
type SelectionError struct{ Message string }

// Error says what is wrong.
func (e *SelectionError) Error() string { return e.Message }

// SelectionRequest says what is asked about a selection.
type SelectionRequest struct {
	Our      record.TeamID     // empty: the event's own team
	Ranking  []record.TeamID   // nil: as the results say
	Moves    *[]selection.Move // nil: the event's records; else those, as in a rehearsal
	Pins     []worth.Pin
	Never    []record.TeamID
	Captains worth.Captains
	SE       float64
	Runs     int
	Seed     uint64
}

// SelectionBoard is where a selection stands.
type SelectionBoard struct {
	Ranking   []record.TeamID     `json:"ranking" nullable:"false"`
	Alliances []selection.Formed  `json:"alliances" nullable:"false"`
	Turn      *selection.Turn     `json:"turn,omitempty"` // nil: all picks are made
	Pool      []record.TeamID     `json:"pool" nullable:"false"`
	Declined  []record.TeamID     `json:"declined" nullable:"false"`
	Gone      []record.TeamID     `json:"gone" nullable:"false"`
	Refused   []selection.Refused `json:"refused" nullable:"false"` // moves that do not count; those that repeat an earlier one are left out
	Rounds    int                 `json:"rounds"`
	Seconds   int                 `json:"seconds"` // for a call; 0: not limited
}

// brackets is how many playoffs are drawn: a chance is known to within a hundredth.
const brackets = 8000

// board is where the selection of an event stands by its records.
func (e *Engine) board(ctx context.Context, m *Model, event uuid.UUID, ranking []record.TeamID, moves *[]selection.Move) (*selection.Board, []selection.Refused, error) {
	if ranking == nil {
		for _, p := range standings.Current(m.Event) {
			ranking = append(ranking, p.Team)
		}
	}
	start, err := selection.New(selection.RulesOf(m.Event.Game.Selection), ranking)
	if err != nil {
		return nil, nil, &SelectionError{err.Error()}
	}
	if moves != nil {
		var refused []selection.Refused
		for k, move := range *moves {
			if err := start.Move(move); err != nil {
				refused = append(refused, selection.Refused{Rule: err.Error(), Entry: selection.Entry{SelectionBody: record.SelectionBody{
					Step: k + 1, Round: move.Round, Captain: move.Captain, Invites: move.Invites, Answer: move.Answer, Backup: move.Backup,
				}}})
			}
		}
		return start, refused, nil
	}
	log, err := SelectionLog(ctx, e.opt.Store, event)
	if err != nil {
		return nil, nil, err
	}
	b, refused := selection.Replay(start, log)
	return b, refused, nil
}

// SelectionLog is the moves of an event's selection as its records have them, in
// no order. Errors: those of the store.
func SelectionLog(ctx context.Context, db *store.DB, event uuid.UUID) ([]selection.Entry, error) {
	records, err := db.Records(ctx, event, store.Filter{Kind: record.KindSelection})
	if err != nil {
		return nil, err
	}
	var log []selection.Entry
	for _, r := range records {
		entry := selection.Entry{ID: r.ID}
		if err := json.Unmarshal(r.Body, &entry.SelectionBody); err != nil {
			return nil, fmt.Errorf("read move %s: %w", r.ID, err)
		}
		log = append(log, entry)
	}
	return log, nil
}

// Selection tells where the selection of an event stands and what calls are
// worth: show gets the board first, then ever better advice until it is good
// enough, ctx ends or show returns an error. Without any knowledge of the robots,
// or without our team, there is the board alone. Errors: *SelectionError, those
// of Analysis and of show.
func (e *Engine) Selection(ctx context.Context, event uuid.UUID, req SelectionRequest, show func(*SelectionBoard, *record.Advice) error) error {
	m, _, err := e.Model(ctx, event)
	if err != nil {
		return err
	}
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return err
	}
	b, refused, err := e.board(ctx, m, event, req.Ranking, req.Moves)
	if err != nil {
		return err
	}
	view := &SelectionBoard{Ranking: b.Ranking(), Alliances: b.Alliances(), Pool: b.Pool(), Declined: b.Declined(), Gone: b.Gone(), Refused: []selection.Refused{}, Rounds: b.Rules().Picks}
	if s := m.Event.Game.Selection; s != nil {
		view.Seconds = s.Seconds
	}
	if turn, on := b.Turn(); on {
		view.Turn = &turn
	}
	for _, r := range refused {
		if !r.Repeats {
			view.Refused = append(view.Refused, r)
		}
	}
	our := cmp.Or(req.Our, ev.OurTeam)
	var evaluation *worth.Evaluation
	if our != "" && m.Fit != nil && view.Turn != nil {
		opt := worth.Options{Our: our, Pins: req.Pins, Never: req.Never, Captains: req.Captains, Seed: req.Seed, Worth: placeWorth(m.Event.Game, ev.Overrides)}
		if evaluation, err = worth.New(m.Fit, b, opt); err != nil {
			return &SelectionError{err.Error()}
		}
	}
	if err := show(view, nil); err != nil || evaluation == nil {
		return err
	}
	var broken error
	_, err = evaluation.Refine(ctx, req.SE, req.Runs, func(a *record.Advice) bool {
		broken = show(nil, a)
		return broken == nil
	})
	if broken != nil {
		return broken
	}
	return err
}

// placeWorth is what a place is worth by the event's own settings.
func placeWorth(g *game.Game, overrides json.RawMessage) func(int) float64 {
	if len(overrides) == 0 {
		return nil
	}
	_, settings, err := g.Override("event.json", overrides)
	if err != nil {
		return nil // it was checked when it came in
	}
	return settings.PlaceWorth
}

// Bracket draws the playoff of the alliances that the selection's records
// formed. Errors: ErrNoSelection, *SelectionError and those of
// Analysis.
func (e *Engine) Bracket(ctx context.Context, event uuid.UUID) (_ *record.Bracket, dataNo int64, current bool, err error) {
	m, current, err := e.Model(ctx, event)
	if err != nil {
		return nil, 0, false, err
	}
	if m.Fit == nil {
		return nil, 0, false, ErrNoSelection
	}
	b, _, err := e.board(ctx, m, event, nil, nil)
	if err != nil {
		return nil, 0, false, err
	}
	if _, on := b.Turn(); on {
		return nil, 0, false, ErrNoSelection
	}
	var all []record.SelectedAlliance
	for _, a := range b.Alliances() {
		all = append(all, record.SelectedAlliance{Alliance: a.Alliance, Captain: a.Captain, Picks: a.Picks})
	}
	out, err := e.brackets.of(ctx, fmt.Sprintf("%s %d %v", event, m.DataNo, all), func() (*record.Bracket, error) {
		return bracket.Simulate(m.Fit, m.Event, all, brackets, rand.New(rand.NewPCG(1, 0)))
	})
	var mismatch *bracket.MismatchError
	if errors.As(err, &mismatch) {
		return nil, 0, false, &SelectionError{err.Error()}
	}
	return out, m.DataNo, current, err
}

// Knowledge is what a device needs to tell worths without the server, and the
// version of the event's settings that went into it. Errors: ErrNoSelection
// while nothing is known of any robot, and those of Analysis.
func (e *Engine) Knowledge(ctx context.Context, event uuid.UUID) (k *worth.Knowledge, dataNo, version int64, current bool, err error) {
	m, current, err := e.Model(ctx, event)
	if err != nil {
		return nil, 0, 0, false, err
	}
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, 0, 0, false, err
	}
	if m.Fit == nil {
		return nil, 0, 0, false, ErrNoSelection
	}
	k, err = worth.Share(m.Fit, placeWorth(m.Event.Game, ev.Overrides))
	return k, m.DataNo, ev.Version, current, err
}
