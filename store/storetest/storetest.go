// Package storetest gives each test a database of its own. Only tests import it.
//
// A package that uses it has
//
//	func TestMain(m *testing.M) { storetest.Main(m) }
//
// and each test begins with
//
//	db := storetest.New(t)
//
// The database is a copy of a migrated template on the server that
// SEXTANT_TEST_DATABASE_URL names, or else on a private PostgreSQL that the
// first New of the test binary starts and Main stops. Without one, tests fail
// with the command that helps; under -short they are skipped.
package storetest

import (
	"testing"

	"sextant/store"
)

// Main runs the tests of a package and then stops what New started.
func Main(m *testing.M) { m.Run() }

// New returns an empty, migrated database that is dropped when the test ends.
func New(t testing.TB) *store.DB { t.Fatal("not written yet"); return nil }

// URL returns the address of an empty, migrated database of its own, for tests
// that start the program.
func URL(t testing.TB) string { t.Fatal("not written yet"); return "" }
