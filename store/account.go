package store

import (
	"context"
	"encoding/hex"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// SettingSetup is the setting that holds the hash of the single-use set-up
// secret, in hexadecimal, as long as no account exists.
const SettingSetup = "setup_hash"

// Account signs in with a password.
type Account struct {
	ID           uuid.UUID `db:"id"`
	Name         string    `db:"name"`          // unique, upper and lower case being the same
	PasswordHash string    `db:"password_hash"` // as api/auth wrote it; never leaves the server
}

// Setting reads a setting. ErrNotFound: it was never set.
func (db *DB) Setting(ctx context.Context, key string) (value string, err error) {
	defer wrap(&err, "read setting %s", key)
	err = db.pool.QueryRow(ctx, `select value from setting where key = $1`, key).Scan(&value)
	return value, err
}

// Settings reads the settings whose keys begin with prefix, by the rest of the key.
func (db *DB) Settings(ctx context.Context, prefix string) (values map[string]string, err error) {
	defer wrap(&err, "read the settings %s…", prefix)
	rows, err := db.pool.Query(ctx, `
		select substr(key, char_length($1) + 1), value
		from setting
		where starts_with(key, $1)`, prefix)
	if err != nil {
		return nil, err
	}
	values = map[string]string{}
	var key, value string
	_, err = pgx.ForEachRow(rows, []any{&key, &value}, func() error {
		values[key] = value
		return nil
	})
	return values, err
}

// SetSetting writes a setting over any earlier value.
func (db *DB) SetSetting(ctx context.Context, key, value string) (err error) {
	defer wrap(&err, "write setting %s", key)
	_, err = db.pool.Exec(ctx, `
		insert into setting (key, value)
		values ($1, $2)
		on conflict (key) do update set value = excluded.value`, key, value)
	return err
}

// DeleteSetting removes a setting; one that is not there is no error.
func (db *DB) DeleteSetting(ctx context.Context, key string) (err error) {
	defer wrap(&err, "delete setting %s", key)
	_, err = db.pool.Exec(ctx, `delete from setting where key = $1`, key)
	return err
}

// HasAccount reports whether any account exists.
func (db *DB) HasAccount(ctx context.Context) (has bool, err error) {
	defer wrap(&err, "look for an account")
	err = db.pool.QueryRow(ctx, `select exists (select from account)`).Scan(&has)
	return has, err
}

// CreateFirstAccount makes the first account and uses up the set-up secret
// whose hash is in SettingSetup. ErrGone: the secret is another one or was used,
// or an account exists; nothing was changed then.
func (db *DB) CreateFirstAccount(ctx context.Context, setupHash []byte, name, passwordHash string) (a Account, err error) {
	defer wrap(&err, "make the first account")
	a = Account{ID: newID(), Name: name, PasswordHash: passwordHash}
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		// Who deletes the secret has used it; a second one waits here and finds none.
		used, err := tx.Exec(ctx, `delete from setting where key = $1 and value = $2`, SettingSetup, hex.EncodeToString(setupHash))
		if err != nil {
			return err
		}
		if used.RowsAffected() == 0 {
			return fmt.Errorf("%w: the set-up link", ErrGone)
		}
		made, err := tx.Exec(ctx, `
			insert into account (id, name, password_hash, made_at)
			select $1, $2, $3, $4
			where not exists (select from account)`, a.ID, a.Name, a.PasswordHash, db.clock())
		if err != nil {
			return err
		}
		if made.RowsAffected() == 0 {
			return fmt.Errorf("%w: an account exists already", ErrGone)
		}
		return nil
	})
	if err != nil {
		return Account{}, err
	}
	return a, nil
}

// AccountByName finds an account, upper and lower case being the same. ErrNotFound.
func (db *DB) AccountByName(ctx context.Context, name string) (_ Account, err error) {
	defer wrap(&err, "find account %q", name)
	rows, err := db.pool.Query(ctx, `
		select id, name, password_hash
		from account
		where lower(name) = lower($1)`, name)
	if err != nil {
		return Account{}, err
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Account])
}

// AccountByID finds an account. ErrNotFound.
func (db *DB) AccountByID(ctx context.Context, id uuid.UUID) (_ Account, err error) {
	defer wrap(&err, "find account %s", id)
	rows, err := db.pool.Query(ctx, `
		select id, name, password_hash
		from account
		where id = $1`, id)
	if err != nil {
		return Account{}, err
	}
	return pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[Account])
}

// SetPassword replaces the password of an account and ends all its sessions. ErrNotFound.
func (db *DB) SetPassword(ctx context.Context, name, passwordHash string) (err error) {
	defer wrap(&err, "set the password of %q", name)
	return db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		var id uuid.UUID
		err := tx.QueryRow(ctx, `
			update account
			set password_hash = $2
			where lower(name) = lower($1)
			returning id`, name, passwordHash).Scan(&id)
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `
			update session
			set revoked_at = $2
			where account_id = $1 and revoked_at is null`, id, db.clock())
		return err
	})
}
