package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"sextant/api/auth"
	"sextant/store"
)

// accountCommand is what can be done about accounts without signing in.
type accountCommand struct {
	Password passwordCommand `cmd:"" help:"Set a new password for an account, read from standard input, and end its sessions."`
}

// passwordCommand sets a password that was forgotten.
type passwordCommand struct {
	databaseFlags
	logFlags
	Name string `arg:"" help:"Name of the account."`
}

// Run reads one line and sets it as the password. A password never stands on
// the command line, where others of the machine could read it.
func (c *passwordCommand) Run(ctx context.Context, s *streams) error {
	if _, err := fmt.Fprintf(s.Err, "New password of %s (at least %d characters):\n", c.Name, auth.MinPassword); err != nil {
		return err
	}
	line, err := bufio.NewReader(io.LimitReader(s.In, 2*auth.MaxPassword)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("read the password: %w", err)
	}
	hash, err := auth.HashPassword(ctx, strings.TrimRight(line, "\r\n"))
	if err != nil {
		return badInput(err)
	}
	db, err := c.open(ctx, c.logger(s.Err))
	if err != nil {
		return err
	}
	defer db.close()
	if err := db.SetPassword(ctx, c.Name, hash); errors.Is(err, store.ErrNotFound) {
		return badInput(fmt.Errorf("there is no account named %q", c.Name))
	} else if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.Out, "The password of %s is set; its sessions have ended.\n", c.Name)
	return err
}
