package store

import (
	"context"
	"crypto/sha256"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// Blob is a picture as it is kept.
type Blob struct {
	Media  string    `json:"media"` // image/jpeg or image/png
	Bytes  []byte    `json:"bytes"`
	MadeAt time.Time `json:"made_at"`
}

// Digest is the SHA-256 of what a device sent, by which a blob is known.
type Digest = [sha256.Size]byte

// maxBlob is the size of the largest picture in bytes.
const maxBlob = 4 << 20

// maxBlobs bounds the pictures of one event: a few of every robot.
const maxBlobs = 1000

// PutBlob keeps a picture; of one that is here already nothing changes.
// ErrNotFound: no such event; ErrInvalid: the event has too many.
func (db *DB) PutBlob(ctx context.Context, event uuid.UUID, id Digest, b Blob) (err error) {
	defer wrap(&err, "keep picture %x of event %s", id[:4], event)
	return db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if _, err := readChangeNo(ctx, tx, event); err != nil {
			return err
		}
		var n int
		if err := tx.QueryRow(ctx, `select count(*) from blob where event_id = $1 and sha256 <> $2`, event, id[:]).Scan(&n); err != nil {
			return err
		}
		if n >= maxBlobs {
			return fmt.Errorf("%w: the event has %d pictures; that is the limit", ErrInvalid, n)
		}
		return insertBlob(ctx, tx, event, id, b.Media, b.Bytes, db.clock())
	})
}

func insertBlob(ctx context.Context, tx pgx.Tx, event uuid.UUID, id Digest, media string, bytes []byte, at time.Time) error {
	_, err := tx.Exec(ctx, `
		insert into blob (event_id, sha256, media, bytes, made_at)
		values ($1, $2, $3, $4, $5)
		on conflict do nothing`, event, id[:], media, bytes, at)
	return err
}

// Blob is a picture. ErrNotFound: there is none of that digest.
func (db *DB) Blob(ctx context.Context, event uuid.UUID, id Digest) (b Blob, err error) {
	defer wrap(&err, "read picture %x of event %s", id[:4], event)
	row := db.pool.QueryRow(ctx, `select media, bytes, made_at from blob where event_id = $1 and sha256 = $2`, event, id[:])
	err = row.Scan(&b.Media, &b.Bytes, &b.MadeAt)
	return b, err
}
