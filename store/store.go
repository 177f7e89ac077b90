package store

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/pgxpool"
)

// DB is a pool of connections to one database. Close it when done.
type DB struct {
	pool   *pgxpool.Pool
	logger *slog.Logger
	now    func() time.Time
	hints  *hinter
}

// Options are settings of Open; the zero value works.
type Options struct {
	Logger   *slog.Logger     // nil: silent
	MaxConns int              // 0: 10
	Now      func() time.Time // nil: time.Now
}

// querier is what a pool and a transaction have in common.
type querier interface {
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// Open connects to the database at url (postgres://…) and checks that it
// answers. It changes nothing there; see Migrate.
func Open(ctx context.Context, url string, opt Options) (_ *DB, err error) {
	cfg, err := pgxpool.ParseConfig(url)
	if err != nil {
		// pgx keeps the password out of this text.
		return nil, fmt.Errorf("%w: the address of the database: %w", ErrInvalid, err)
	}
	cfg.MaxConns = 10
	if opt.MaxConns > 0 {
		cfg.MaxConns = int32(min(opt.MaxConns, 1000))
	}
	// Each execution is planned anew. A plan that is kept may have been made when
	// an event was empty and any index would do, and then reads the whole event
	// each time, until the statistics catch up; and kept statements do not pass
	// a transaction pooler. What planning costs is small beside that. Another mode
	// that the address names stays.
	if cfg.ConnConfig.DefaultQueryExecMode == pgx.QueryExecModeCacheStatement {
		cfg.ConnConfig.DefaultQueryExecMode = pgx.QueryExecModeCacheDescribe
	}
	cfg.ConnConfig.RuntimeParams["timezone"] = "UTC"
	if cfg.ConnConfig.RuntimeParams["application_name"] == "" {
		cfg.ConnConfig.RuntimeParams["application_name"] = "sextant"
	}
	cfg.AfterConnect = func(_ context.Context, conn *pgx.Conn) error {
		conn.TypeMap().RegisterType(&pgtype.Type{
			Name: "timestamptz", OID: pgtype.TimestamptzOID, Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC},
		})
		return nil
	}
	db := &DB{logger: opt.Logger, now: opt.Now}
	if db.logger == nil {
		db.logger = slog.New(slog.DiscardHandler)
	}
	if db.now == nil {
		db.now = time.Now
	}
	if db.pool, err = pgxpool.NewWithConfig(ctx, cfg); err != nil {
		return nil, fmt.Errorf("open the database: %w", err)
	}
	if err := db.Ping(ctx); err != nil {
		db.pool.Close()
		return nil, err
	}
	db.hints = startHinter(db.pool, db.logger)
	return db, nil
}

// Close sends the hints that are still due and closes all connections. It
// waits for queries that run.
func (db *DB) Close() {
	db.hints.stop()
	db.pool.Close()
}

// Ping checks that the database answers.
func (db *DB) Ping(ctx context.Context) error {
	if err := db.pool.Ping(ctx); err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	return nil
}

// tries is how often a transaction is begun at most. Each failure means that
// another transaction got through, so a few suffice.
const tries = 8

// snapshot is a transaction that sees one state of the database and changes nothing.
var snapshot = pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}

// tx runs fn in a transaction that is committed when fn returns nil and rolled
// back otherwise. After a serialization failure or a deadlock it is run again,
// so fn must not have effects elsewhere: no channel, no request, no fit.
func (db *DB) tx(ctx context.Context, opt pgx.TxOptions, fn func(tx pgx.Tx) error) error {
	for try := 1; ; try++ {
		err := pgx.BeginTxFunc(ctx, db.pool, opt, fn)
		if err == nil || try == tries || !mayPass(err) {
			return err
		}
		db.logger.DebugContext(ctx, "transaction repeated", "try", try, "error", err)
		// Two that collided must not collide again in step.
		pause := time.NewTimer(time.Duration(rand.Int64N(int64(try)*int64(5*time.Millisecond)) + 1))
		select {
		case <-ctx.Done():
			pause.Stop()
			return errors.Join(err, ctx.Err())
		case <-pause.C:
		}
	}
}

// clock is now as the database keeps it: UTC, in whole microseconds.
func (db *DB) clock() time.Time { return db.now().UTC().Truncate(time.Microsecond) }

// newID makes a UUIDv7 (RFC 9562). It fails only where the system has no
// randomness, and then nothing else would be safe either.
func newID() uuid.UUID { return uuid.Must(uuid.NewV7()) }

// orNull is nil for the zero id.
func orNull(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// mayPass reports whether the same transaction may succeed when it is repeated.
func mayPass(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == stateSerialization || pg.Code == stateDeadlock)
}
