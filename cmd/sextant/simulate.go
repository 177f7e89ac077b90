package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/table"
)

// simulateCommand invents a competition and writes it as files: game.json,
// teams.csv, matches.csv, observations.csv, marks.csv, and truth.json, which
// tells what nobody at a competition knows. The same arguments write the same
// bytes.
type simulateCommand struct {
	Seed           uint64  `required:"" help:"Where the random numbers start; the same seed gives the same event."`
	Game           string  `placeholder:"FILE" help:"Game file; without it the invented game Slackwater."`
	Teams          int     `default:"60" help:"How many teams take part."`
	MatchesPerTeam int     `default:"12" help:"Matches of every team."`
	Out            string  `required:"" placeholder:"DIR" help:"Folder to write to; made if missing."`
	Scouts         int     `default:"12" help:"How many scouts take turns; 0 for no records at all."`
	Watched        float64 `default:"0.95" help:"Share of robots that are watched, 0 to 1."`
	Careless       float64 `default:"0.15" help:"Share of scouts who are careless, 0 to 1."`
	Mistakes       float64 `default:"1" help:"Factor on all mistakes of scouts, 0 to 5."`
	RobotFacts     bool    `help:"Let the results have what each robot did, where that is a choice or a flag."`
	Runs           int     `default:"200" help:"How often each match is played over to learn the truth, 2 or more."`
}

// inventedGame reads a game file, or takes the demo's game if path is empty.
func inventedGame(path string) (*game.Game, []byte, error) {
	name, data := "slackwater.json", generate.Slackwater()
	if path != "" {
		var err error
		name = path
		if data, err = os.ReadFile(path); err != nil {
			return nil, nil, badInput(err)
		}
	}
	g, err := game.Load(name, data)
	if err != nil {
		return nil, nil, badInput(err)
	}
	return g, data, nil
}

// Run writes the files, or none of them.
func (c simulateCommand) Run(s *streams) error {
	g, data, err := inventedGame(c.Game)
	if err != nil {
		return err
	}
	if c.Runs < 2 {
		return badInput(fmt.Errorf("--runs %d: play each match over at least twice", c.Runs))
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Scouts = c.Teams, c.MatchesPerTeam, c.Scouts
	opt.Watched, opt.Careless, opt.Mistakes, opt.RobotFacts = c.Watched, c.Careless, c.Mistakes, c.RobotFacts
	opt.Start = time.Date(2031, time.March, 6, 9, 0, 0, 0, time.FixedZone("", -5*60*60))
	w, err := generate.New(g, rand.New(rand.NewPCG(c.Seed, 0)), opt)
	if err != nil {
		return badInput(err)
	}
	if err := c.checkOut(); err != nil { // before the long work, not after it
		return err
	}
	return c.write(s, g, data, w)
}

// checkOut refuses a folder that cannot be made or written to, or that holds
// one of the files already.
func (c simulateCommand) checkOut() error {
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return badInput(fmt.Errorf("--out: %w", err))
	}
	for _, name := range []string{"game.json", "teams.csv", "matches.csv", "observations.csv", "marks.csv", "truth.json"} {
		path := filepath.Join(c.Out, name)
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return badInput(fmt.Errorf("--out: %s is there already and stays as it is: give a folder without it", path))
		}
	}
	try, err := os.CreateTemp(c.Out, ".sextant-simulate-*")
	if err != nil {
		return badInput(fmt.Errorf("--out: %w", err))
	}
	return errors.Join(try.Close(), os.Remove(try.Name()))
}

func (c simulateCommand) write(s *streams, g *game.Game, definition []byte, w *generate.World) error {
	ev := w.Event(w.Matches())
	truth := w.Truth(c.Runs)
	files := []struct {
		name  string
		write func(*os.File) error
	}{
		{"game.json", func(f *os.File) error { _, err := f.Write(definition); return err }},
		{"teams.csv", func(f *os.File) error { return table.WriteTeams(f, ev.Teams) }},
		{"matches.csv", func(f *os.File) error { return table.WriteMatches(f, g, ev.Matches) }},
		{"observations.csv", func(f *os.File) error { return table.WriteObservations(f, g, ev.Observations) }},
		{"marks.csv", func(f *os.File) error { return table.WriteMarks(f, ev.Marks) }},
		{"truth.json", func(f *os.File) error {
			enc := json.NewEncoder(f)
			enc.SetIndent("", " ")
			return enc.Encode(truth)
		}},
	}
	for _, file := range files {
		f, err := os.OpenFile(filepath.Join(c.Out, file.name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
		if err != nil {
			return err
		}
		if err := errors.Join(file.write(f), f.Close()); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(s.Out, "An invented event of %d teams, %d matches and %d records is in %s.\n", len(ev.Teams), len(ev.Matches), len(ev.Observations), c.Out)
	return err
}
