package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"sextant/stats/rota"
	"sextant/stats/study"
)

// replanned is after how many matches a studied rota is made anew.
const replanned = 10

// rotas measures rotas on invented events.
func (c *backtestCommand) rotas(ctx context.Context, s *streams) error {
	g, _, err := inventedGame(c.Game)
	if err != nil {
		return err
	}
	if c.Selection || c.Seeds < 2 || c.FirstSeed < 0 {
		return badInput(errors.New("--rota needs --seeds of 2 events or more and --first-seed from 0, and goes without --selection"))
	}
	events := c.invented()
	r, err := study.Rotas(ctx, g, study.RotaOptions{
		Seeds: c.Seeds, First: c.FirstSeed, Events: events, TruthRuns: c.TruthRuns, Every: replanned, Weights: rota.DefaultWeights(),
	})
	return measured(c, s, r, err, writeRotasTable)
}

func writeRotasTable(out io.Writer, r *study.RotaReport) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "scouts\trecords\tpoints rmse\tmore ± se\tBrier\tmore ± se\tscores of our matches\tmore ± se\tfirst pick lacks\tmore ± se\t")
	for i := range r.Ways {
		x := &r.Ways[i]
		fmt.Fprintf(w, "%s\t%.0f\t%.2f\t%+.2f ± %.2f\t%.4f\t%+.4f ± %.4f\t%.2f\t%+.2f ± %.2f\t%.2f\t%+.2f ± %.2f\t\n", x.Way, x.Records,
			x.RMSE, x.RMSEMore.Mean, x.RMSEMore.SE, x.Brier, x.BrierMore.Mean, x.BrierMore.SE,
			x.Ours, x.OursMore.Mean, x.OursMore.SE, x.Pick, x.PickMore.Mean, x.PickMore.SE)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("write: %w", err)
	}
	_, err := fmt.Fprintf(out, "\n%d invented events from seed %d, with the same luck for all ways. More: than the first way, paired by event.\n", r.Events, r.First)
	return err
}
