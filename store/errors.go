package store

import (
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// What an error of this package means. Every other error is internal: it is
// logged, and nobody is shown its text.
var (
	// ErrNotFound: there is no such thing, or not at this event.
	ErrNotFound = errors.New("not found")
	// ErrExists: a thing of that name or id is there already.
	ErrExists = errors.New("already exists")
	// ErrConflict: something else still needs what was to be taken away.
	ErrConflict = errors.New("still in use")
	// ErrStale: somebody changed it since it was read.
	ErrStale = errors.New("changed since it was read")
	// ErrGone: a code, link or event that has ended, was revoked or used up.
	ErrGone = errors.New("has ended")
	// ErrInvalid: the database cannot take the value. The text says which.
	ErrInvalid = errors.New("not valid")
)

// The names of constraints whose failure has a meaning of its own.
var constraintMeaning = map[string]error{
	"account_name_key":     fmt.Errorf("%w: an account of that name", ErrExists),
	"event_pkey":           fmt.Errorf("%w: an event of that id", ErrExists),
	"member_nickname_key":  fmt.Errorf("%w: a member of that nickname", ErrExists),
	"member_account_key":   fmt.Errorf("%w: a member with that account", ErrExists),
	"code_hash_key":        fmt.Errorf("%w: that code", ErrExists),
	"session_pkey":         fmt.Errorf("%w: that session", ErrExists),
	"team_pkey":            fmt.Errorf("%w: a team is twice in the list", ErrInvalid),
	"match_pkey":           fmt.Errorf("%w: a match and play is twice in the schedule", ErrInvalid),
	"seat_once_key":        fmt.Errorf("%w: a team is twice in a match", ErrInvalid),
	"revision_pkey":        fmt.Errorf("%w: a revision of that id", ErrExists),
	"revision_member_fkey": fmt.Errorf("%w: the author is not a member of the event", ErrInvalid),
	"member_event_fkey":    fmt.Errorf("%w: the event", ErrNotFound),
	"code_event_fkey":      fmt.Errorf("%w: the event", ErrNotFound),
	"team_event_fkey":      fmt.Errorf("%w: the event", ErrNotFound),
	"match_event_fkey":     fmt.Errorf("%w: the event", ErrNotFound),
	"record_event_fkey":    fmt.Errorf("%w: the event", ErrNotFound),
	"held_event_fkey":      fmt.Errorf("%w: the event", ErrNotFound),
	"held_member_fkey":     fmt.Errorf("%w: the member", ErrNotFound),
	"revision_event_fkey":  fmt.Errorf("%w: the event", ErrNotFound),
	"change_event_fkey":    fmt.Errorf("%w: the event", ErrNotFound),
	"audit_event_fkey":     fmt.Errorf("%w: the event", ErrNotFound),
	"analysis_event_fkey":  fmt.Errorf("%w: the event", ErrNotFound),
	"session_member_fkey":  fmt.Errorf("%w: the member", ErrNotFound),
	"session_account_fkey": fmt.Errorf("%w: the account", ErrNotFound),
	"member_account_fkey":  fmt.Errorf("%w: the account", ErrNotFound),
}

// The SQLSTATEs that matter (PostgreSQL manual, appendix A).
const (
	stateSerialization  = "40001"
	stateDeadlock       = "40P01"
	stateForeignKey     = "23503"
	stateUnique         = "23505"
	stateCheck          = "23514"
	classBadData        = "22" // out of range, a NUL in a text, not JSON, …
	stateUndefinedTable = "42P01"
)

// meaning gives a database error its sentinel, by constraint and SQLSTATE and
// never by its text. The original stays wrapped for the log.
func meaning(err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, pgx.ErrNoRows) {
		return fmt.Errorf("%w: %w", ErrNotFound, err)
	}
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		return err
	}
	for _, s := range []error{ErrNotFound, ErrExists, ErrConflict, ErrStale, ErrGone, ErrInvalid} {
		if errors.Is(err, s) {
			return err
		}
	}
	if known, ok := constraintMeaning[pg.ConstraintName]; ok {
		return fmt.Errorf("%w: %w", known, err)
	}
	switch {
	case pg.Code == stateUnique:
		return fmt.Errorf("%w: %w", ErrExists, err)
	case pg.Code == stateForeignKey:
		return fmt.Errorf("%w: %w", ErrConflict, err)
	case pg.Code == stateCheck:
		return fmt.Errorf("%w: %s: %w", ErrInvalid, pg.ConstraintName, err)
	case len(pg.Code) == 5 && pg.Code[:2] == classBadData:
		return fmt.Errorf("%w: %s: %w", ErrInvalid, pg.Message, err)
	}
	return err
}

// wrap gives *err its meaning and says what was tried. Use: defer wrap(&err, "save %s", id).
func wrap(err *error, format string, args ...any) {
	if *err != nil {
		*err = fmt.Errorf(format+": %w", append(args, meaning(*err))...)
	}
}
