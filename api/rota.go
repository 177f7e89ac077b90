package api

import (
	"context"
	"errors"

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
	Matches int `json:"matches" doc:"How many are planned"`
}

type planRotaOutput struct {
	Body rotaView
}

func (s *Server) planRota(ctx context.Context, in *planRotaInput) (*planRotaOutput, error) {
	from, err := record.ParseMatch(in.Body.From)
	if err != nil {
		return nil, invalid.because(sentence(err)+".", problemItem{Pointer: "/from", Message: err.Error()})
	}
	got, err := s.engine.Rota(ctx, in.Event, &engine.RotaRequest{From: from, Keep: in.Body.Keep, RotaBody: in.Body.RotaBody})
	var bad *rota.RequestError
	switch {
	case errors.As(err, &bad):
		return nil, invalid.because(sentence(err) + ".")
	case err != nil:
		return nil, err
	}
	return &planRotaOutput{Body: rotaView{Freshness{DataNo: got.DataNo, Current: got.Current}, *got.Result, got.Matches}}, nil
}
