package store_test

import (
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"sextant/migrations"
	"sextant/store"
	"sextant/store/storetest"
)

// shared are the tables that belong to no event.
var shared = []string{"account", "game", "setting", "schema_migrations"}

// TestMigrations runs every step up, down and up again: the second time up
// gives the same database, and down leaves nothing.
func TestMigrations(t *testing.T) {
	t.Parallel()
	at := storetest.EmptyURL(t)
	conn := storetest.Conn(t, at)
	ctx := t.Context()
	if err := store.Migrate(ctx, at); err != nil {
		t.Fatal(err)
	}
	first := structure(t, conn)
	if len(first) < 100 {
		t.Fatalf("only %d columns and constraints: the test does not see the database", len(first))
	}
	if err := store.Migrate(ctx, at); err != nil {
		t.Errorf("again, with nothing to do: %v", err)
	}
	if err := store.MigrateDown(ctx, at); err != nil {
		t.Fatal(err)
	}
	for _, line := range structure(t, conn) {
		if !strings.Contains(line, "schema_migrations") {
			t.Errorf("left after down: %s", line)
		}
	}
	if err := store.Migrate(ctx, at); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(first, structure(t, conn)); diff != "" {
		t.Errorf("up, down, up differs (-first +second):\n%s", diff)
	}
}

// structure lists columns, constraints and indexes.
func structure(t *testing.T, conn *pgx.Conn) []string {
	t.Helper()
	rows, err := conn.Query(t.Context(), `
		select format('%s.%s %s %s %s', table_name, column_name, data_type, is_nullable, column_default)
		from information_schema.columns
		where table_schema = 'public'
		union all
		select format('%s %s %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
		from pg_constraint
		where connamespace = 'public'::regnamespace
		union all
		select indexdef
		from pg_indexes
		where schemaname = 'public'
		order by 1`)
	if err != nil {
		t.Fatal(err)
	}
	return must[[]string](t)(pgx.CollectRows(rows, pgx.RowTo[string]))
}

func TestMigrateByManyAtOnce(t *testing.T) {
	t.Parallel()
	at := storetest.EmptyURL(t)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			if err := store.Migrate(t.Context(), at); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	storetest.Event(t, storetest.Open(t, at, store.Options{}), nil)
}

func TestMigrateNewerDatabase(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	conn := storetest.Conn(t, at)
	if _, err := conn.Exec(t.Context(), `update schema_migrations set version = 999999`); err != nil {
		t.Fatal(err)
	}
	if err := store.Migrate(t.Context(), at); err == nil || !strings.Contains(err.Error(), "newer Sextant") {
		t.Errorf("got %v", err)
	}
	if _, err := conn.Exec(t.Context(), `update schema_migrations set version = 1, dirty = true`); err != nil {
		t.Fatal(err)
	}
	if err := store.Migrate(t.Context(), at); err == nil || !strings.Contains(err.Error(), "cut off") {
		t.Errorf("got %v", err)
	}
}

// TestMigrationFiles: numbers have no gap and each step goes both ways.
func TestMigrationFiles(t *testing.T) {
	t.Parallel()
	names, err := fs.Glob(migrations.Files, "*.sql")
	if err != nil {
		t.Fatal(err)
	}
	form := regexp.MustCompile(`^(\d{6}_[a-z_]+)\.(up|down)\.sql$`)
	steps := map[string]int{}
	for _, name := range names {
		m := form.FindStringSubmatch(name)
		if m == nil {
			t.Errorf("%s is not NUMBER_name.up.sql or .down.sql", name)
			continue
		}
		steps[m[1]]++
	}
	for i := 1; i <= len(steps); i++ {
		found := 0
		for step, n := range steps {
			if strings.HasPrefix(step, fmt.Sprintf("%06d_", i)) {
				found += n
			}
		}
		if found != 2 {
			t.Errorf("step %d has %d files, want one up and one down", i, found)
		}
	}
}

// TestKeysLeadWithTheEvent reads the catalogue: of every table that is not
// shared, every primary key, unique index and foreign key has event_id first,
// on both sides.
func TestKeysLeadWithTheEvent(t *testing.T) {
	t.Parallel()
	conn := storetest.Conn(t, storetest.URL(t))
	rows, err := conn.Query(t.Context(), `
		with keys as (
			select i.indrelid as on_table, i.indexrelid::regclass::text as name, i.indkey[0] as first, null::oid as to_table, null::smallint as to_first
			from pg_index i
			where i.indisunique
			union all
			select c.conrelid, c.conname, c.conkey[1], c.confrelid, c.confkey[1]
			from pg_constraint c
			where c.contype = 'f'
		)
		select
			k.on_table::regclass::text,
			k.name,
			coalesce(a.attname, '(expression)'),
			coalesce(k.to_table::regclass::text, ''),
			coalesce(b.attname, '')
		from keys k
		join pg_class t on t.oid = k.on_table
		left join pg_attribute a on a.attrelid = k.on_table and a.attnum = k.first and k.first > 0
		left join pg_attribute b on b.attrelid = k.to_table and b.attnum = k.to_first
		where t.relnamespace = 'public'::regnamespace
			and not t.relname = any($1)
			and not coalesce(k.to_table::regclass::text, '') = any($1)`, shared)
	if err != nil {
		t.Fatal(err)
	}
	tables := map[string]bool{}
	var table, key, first, to, toFirst string
	_, err = pgx.ForEachRow(rows, []any{&table, &key, &first, &to, &toFirst}, func() error {
		tables[table] = true
		if first != "event_id" {
			t.Errorf("%s of %s begins with %s", key, table, first)
		}
		if to != "" && toFirst != "event_id" {
			t.Errorf("%s of %s refers to %s by %s first", key, table, to, toFirst)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	rows, err = conn.Query(t.Context(), `
		select relname
		from pg_class c
		where relnamespace = 'public'::regnamespace and relkind = 'r' and not relname = any($1)
		order by relname`, shared)
	if err != nil {
		t.Fatal(err)
	}
	all := must[[]string](t)(pgx.CollectRows(rows, pgx.RowTo[string]))
	for _, table := range all {
		if !tables[table] {
			t.Errorf("%s has no key", table)
		}
	}
	want := []string{
		"analysis", "audit", "blob", "change", "code", "event", "held", "match", "member", "record", "revision", "seat", "session", "team",
	}
	same(t, "tables", want, all)
}

// TestConstraintNames: errors are told apart by the names of constraints, so a
// name that no migration makes would be an error that is never recognised.
func TestConstraintNames(t *testing.T) {
	t.Parallel()
	conn := storetest.Conn(t, storetest.URL(t))
	rows, err := conn.Query(t.Context(), `
		select conname::text from pg_constraint where connamespace = 'public'::regnamespace
		union
		select indexname::text from pg_indexes where schemaname = 'public'`)
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, name := range must[[]string](t)(pgx.CollectRows(rows, pgx.RowTo[string])) {
		there[name] = true
	}
	for _, name := range store.ConstraintNames() {
		if !there[name] {
			t.Errorf("there is no constraint %s", name)
		}
	}
}
