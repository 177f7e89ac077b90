package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strconv"
	"time"

	"golang.org/x/sync/errgroup"

	"sextant/api"
	"sextant/api/auth"
	"sextant/frontend"
	"sextant/stats/record"
	"sextant/store"
)

// demoCommand runs the server on an invented event that goes on by itself.
type demoCommand struct {
	Data        string        `type:"path" default:"sextant-demo" help:"Data folder of the demo; it goes on where it was."`
	Port        int           `default:"4180" help:"Port on this machine; 0 takes a free one."`
	Every       time.Duration `default:"1m" help:"Time between two matches, and between two calls of the selection; 0 goes on at each press of the Enter key only."`
	Seed        uint64        `default:"40113" help:"Where the random numbers start; another one gives another event."`
	PostgresBin string        `env:"SEXTANT_POSTGRES_BIN" type:"path" placeholder:"DIR" help:"Folder with the binaries postgres and initdb; otherwise they are looked for."`
	LogLevel    slog.Level    `env:"SEXTANT_LOG_LEVEL" default:"error" help:"Least level that is logged: debug, info, warn or error."`
}

// demoCodeLife is how long the links of a demo work.
const demoCodeLife = 24 * time.Hour

// Run serves until ctx ends.
func (c *demoCommand) Run(ctx context.Context, s *streams) error {
	if c.Every < 0 {
		return badInput(fmt.Errorf("--every %s: a time of 0 or more", c.Every))
	}
	logger := logFlags{LogFormat: "text", LogLevel: c.LogLevel}.logger(s.Err)
	listener, err := net.Listen("tcp", net.JoinHostPort("localhost", strconv.Itoa(c.Port)))
	if err != nil {
		return badInput(fmt.Errorf("--port %d: %w; take another one", c.Port, err))
	}
	defer listener.Close() // again, if serving has begun, which does no harm
	fmt.Fprintf(s.Out, "Making an invented event in %s\n", c.Data)
	db, err := databaseFlags{Data: c.Data, PostgresBin: c.PostgresBin}.open(ctx, logger)
	if err != nil {
		return err
	}
	defer db.close()
	demo, err := openDemo(ctx, db.DB, demoWhole, c.Seed, time.Now())
	if err != nil {
		return err
	}
	server, err := api.New(api.Options{Store: db.DB, Logger: logger, App: frontend.Dist(), Build: build()})
	if err != nil {
		return err
	}
	defer server.Close()
	if err := c.greet(ctx, s.Out, demo, listener.Addr()); err != nil {
		return err
	}
	group, ctx := errgroup.WithContext(ctx)
	group.Go(func() error { return new(serveCommand).serve(ctx, server, listener, db, logger, nil) })
	group.Go(func() error { return c.move(ctx, s, demo) })
	return group.Wait()
}

// greet says what this is, and prints one link for each role.
func (c *demoCommand) greet(ctx context.Context, out io.Writer, d *demoEvent, at net.Addr) error {
	_, port, err := net.SplitHostPort(at.String())
	if err != nil {
		return err
	}
	next, err := d.upcoming(ctx)
	if errors.Is(err, errDemoOver) {
		next = d.world.Matches()
	} else if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%s: %d invented teams, %d of %d matches played.\nNothing in it is real. Each of these links works once, in a browser on this machine:\n\n",
		demoName, len(d.world.Teams()), next, d.world.Matches())
	for _, role := range []record.Role{record.RoleLead, record.RoleCoach, record.RoleScout} {
		name, err := d.guest(ctx, role)
		if err != nil {
			return err
		}
		code, once := auth.NewCode(), 1
		_, err = d.db.CreateCode(ctx, d.id, store.NewCode{
			Hash: auth.HashCode(code), Role: role, Label: name, ExpiresAt: time.Now().Add(demoCodeLife), Uses: &once,
		})
		if err != nil {
			return err
		}
		fmt.Fprintf(out, "  %-6s http://localhost:%s/enter#%s\n", role, port, code)
	}
	how := "Press Enter to play the next match"
	if c.Every > 0 {
		how = fmt.Sprintf("A match is played every %s; press Enter to play one now", c.Every)
	}
	_, err = fmt.Fprintf(out, "\n%s, Ctrl-C to stop. Selection and playoff follow the last one.\n", how)
	return err
}

// move lets the event go on at each tick and at each line of the standard
// input, until ctx ends or the event is over.
func (c *demoCommand) move(ctx context.Context, s *streams, d *demoEvent) error {
	var tick <-chan time.Time
	if c.Every > 0 {
		ticker := time.NewTicker(c.Every)
		defer ticker.Stop()
		tick = ticker.C
	}
	lines := linesOf(ctx, s.In)
	waiting := false
	for {
		asked := false
		select {
		case <-ctx.Done():
			return nil
		case <-tick:
		case _, open := <-lines:
			if !open { // no keyboard
				lines = nil
				continue
			}
			asked = true
		}
		said, err := d.next(ctx, asked)
		switch {
		case errors.Is(err, errDemoOver):
			_, err = fmt.Fprintf(s.Out, "The event is over: %s. Delete the data folder to begin anew.\n", err)
			return err
		case errors.Is(err, errOurTurn):
			if !waiting {
				fmt.Fprintf(s.Out, "%s is asked: answer on the selection screen, or press Enter.\n", demoOurTeam)
			}
			waiting = true
			continue
		case ctx.Err() != nil:
			return nil
		case err != nil:
			return fmt.Errorf("go on with the demo: %w", err)
		}
		waiting = false
		fmt.Fprintln(s.Out, said)
	}
}

// linesOf sends once for every line of in, and closes at its end. The reader
// itself cannot be interrupted: it ends with the program.
func linesOf(ctx context.Context, in io.Reader) <-chan struct{} {
	lines := make(chan struct{})
	if in == nil {
		close(lines)
		return lines
	}
	go func() {
		defer close(lines)
		for scan := bufio.NewScanner(in); scan.Scan(); {
			select {
			case lines <- struct{}{}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
}
