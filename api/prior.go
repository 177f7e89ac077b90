package api

import (
	"context"
	"encoding/json"
	"errors"
	"slices"

	"github.com/google/uuid"

	"sextant/api/engine"
	"sextant/stats/record"
)

// priorView says what an event knows from an earlier one.
type priorView struct {
	Teams int `json:"teams" doc:"In the earlier estimates; 0: there are none"`
	Here  int `json:"here" doc:"Of them, at this event"`
}

type priorOutput struct {
	Body priorView
}

type putPriorInput struct {
	EventPath
	RawBody []byte `contentType:"application/json"`
}

func (s *Server) getPrior(ctx context.Context, in *EventPath) (*priorOutput, error) {
	prior, err := s.opt.Store.Prior(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	return s.countPrior(ctx, in.Event, prior)
}

// putPrior takes estimates as `sextant estimate --format json` or the report of
// an earlier event gives them.
func (s *Server) putPrior(ctx context.Context, in *putPriorInput) (*priorOutput, error) {
	var prior record.Estimate
	if err := json.Unmarshal(in.RawBody, &prior); err != nil {
		return nil, invalid.because("This is not a file of estimates. Take estimates.json from the report of the earlier event.", problemItem{Message: err.Error()})
	}
	if err := s.engine.CheckPrior(ctx, in.Event, &prior); err != nil {
		var bad *engine.PriorError
		if errors.As(err, &bad) {
			return nil, invalid.because("These estimates cannot be used here. "+sentence(err)+".", problemItem{Pointer: "/teams", Message: bad.Error()})
		}
		return nil, err
	}
	if err := s.opt.Store.SetPrior(ctx, in.Event, &prior); err != nil {
		return nil, err
	}
	s.audit(ctx, "prior", map[string]any{"teams": len(prior.Teams)})
	return s.countPrior(ctx, in.Event, &prior)
}

func (s *Server) dropPrior(ctx context.Context, in *EventPath) (*struct{}, error) {
	if err := s.opt.Store.SetPrior(ctx, in.Event, nil); err != nil {
		return nil, err
	}
	s.audit(ctx, "prior", map[string]any{"teams": 0})
	return nil, nil
}

func (s *Server) countPrior(ctx context.Context, event uuid.UUID, prior *record.Estimate) (*priorOutput, error) {
	out := &priorOutput{}
	if prior == nil {
		return out, nil
	}
	teams, _, err := s.opt.Store.Teams(ctx, event)
	if err != nil {
		return nil, err
	}
	out.Body.Teams = len(prior.Teams)
	for _, t := range prior.Teams {
		if slices.ContainsFunc(teams, func(here record.Team) bool { return here.ID == t.Team }) {
			out.Body.Here++
		}
	}
	return out, nil
}
