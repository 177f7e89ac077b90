package store

import (
	"context"

	"github.com/google/uuid"
)

// SettingSetup is the setting that holds the hash of the single-use set-up
// secret, in hexadecimal, as long as no account exists.
const SettingSetup = "setup_hash"

// Account signs in with a password.
type Account struct {
	ID           uuid.UUID
	Name         string // unique, upper and lower case being the same
	PasswordHash string // as api/auth wrote it; never leaves the server
}

// Setting reads a setting. ErrNotFound: it was never set.
func (db *DB) Setting(ctx context.Context, key string) (value string, err error) {
	return "", errUnfinished
}

// SetSetting writes a setting over any earlier value.
func (db *DB) SetSetting(ctx context.Context, key, value string) (err error) { return errUnfinished }

// DeleteSetting removes a setting; one that is not there is no error.
func (db *DB) DeleteSetting(ctx context.Context, key string) (err error) { return errUnfinished }

// HasAccount reports whether any account exists.
func (db *DB) HasAccount(ctx context.Context) (_ bool, err error) { return false, errUnfinished }

// CreateFirstAccount makes the first account and uses up the set-up secret
// whose hash is in SettingSetup. ErrGone: the secret is another one or was used,
// or an account exists; nothing was changed then.
func (db *DB) CreateFirstAccount(ctx context.Context, setupHash []byte, name, passwordHash string) (_ Account, err error) {
	return Account{}, errUnfinished
}

// AccountByName finds an account, upper and lower case being the same. ErrNotFound.
func (db *DB) AccountByName(ctx context.Context, name string) (_ Account, err error) {
	return Account{}, errUnfinished
}

// AccountByID finds an account. ErrNotFound.
func (db *DB) AccountByID(ctx context.Context, id uuid.UUID) (_ Account, err error) {
	return Account{}, errUnfinished
}

// SetPassword replaces the password of an account and ends all its sessions. ErrNotFound.
func (db *DB) SetPassword(ctx context.Context, name, passwordHash string) (err error) {
	return errUnfinished
}
