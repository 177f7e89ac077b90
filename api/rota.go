package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"sextant/api/engine"
	"sextant/stats/record"
	"sextant/stats/rota"
)

type planRotaInput struct {
	EventPath
	Body struct {
		record.RotaBody
		From string `json:"from" maxLength:"5" example:"Q31" doc:"The first match that is planned"`
		Keep int    `json:"keep,omitempty" minimum:"0" maximum:"99" doc:"Matches from there whose seats stay as far as possible, since their scouts are on their way"`
	}
}

// rotaView is a plan that is not in force: the caller makes records of it.
type rotaView struct {
	Freshness
	rota.Result
	Matches int          `json:"matches" doc:"How many are planned"`
	Weights rota.Weights `json:"weights" doc:"How much each goal counted; loss and nobody are multiplied by it"`
}

type planRotaOutput struct {
	Body rotaView
}

func (s *Server) planRota(ctx context.Context, in *planRotaInput) (*planRotaOutput, error) {
	from, err := record.ParseMatch(in.Body.From)
	if err != nil {
		return nil, invalid.because(sentence(err)+".", problemItem{Pointer: "/from", Message: err.Error()})
	}
	if err := checkRota(&in.Body.RotaBody); err != nil {
		return nil, err
	}
	got, err := s.engine.Rota(ctx, in.Event, &engine.RotaRequest{From: from, Keep: in.Body.Keep, RotaBody: in.Body.RotaBody})
	var bad *rota.RequestError
	switch {
	case errors.As(err, &bad):
		return nil, invalid.because(sentence(err) + ".")
	case err != nil:
		return nil, err
	}
	return &planRotaOutput{Body: rotaView{Freshness{DataNo: got.DataNo, Current: got.Current}, *got.Result, got.Matches, got.Weights}}, nil
}

// checkRota holds what a plan is asked for to the rules of the record that keeps
// it: what was planned can then be put in force.
func checkRota(body *record.RotaBody) error {
	text, err := json.Marshal(body)
	if err != nil {
		return fmt.Errorf("write the request: %w", err)
	}
	// The rules of this kind don't hang on the game.
	if problems := record.CheckBody(nil, record.KindRota, text); len(problems) > 0 {
		items := jsonItems(problems)
		for i := range items {
			items[i].Line = 0 // of our own writing
		}
		return invalid.because("No plan was made. "+items[0].text(), items...)
	}
	return nil
}

// goalsView is what plans go for when nothing else is said.
type goalsView struct {
	Weights rota.Weights `json:"weights" doc:"How much each goal counts; what a request leaves out counts so"`
	Most    float64      `json:"most" doc:"The most that one goal can count; the least is 0"`
}

type goalsOutput struct {
	Body goalsView
}

func (s *Server) getRotaGoals(context.Context, *EventPath) (*goalsOutput, error) {
	return &goalsOutput{Body: goalsView{rota.DefaultWeights(), record.MaxRotaWeight}}, nil
}
