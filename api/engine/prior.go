package engine

import (
	"context"

	"github.com/google/uuid"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// PriorError says why estimates of an earlier event cannot be used.
type PriorError = contrib.PriorError

// CheckPrior says whether estimates of an earlier event can be prior knowledge of
// an event: a *PriorError if not, or an error of the store.
func (e *Engine) CheckPrior(ctx context.Context, event uuid.UUID, prior *record.Estimate) error {
	ev, _, err := e.opt.Store.Load(ctx, event)
	if err != nil {
		return err
	}
	return contrib.CheckPrior(ev, prior)
}
