package store

import (
	"bufio"
	"cmp"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
)

// A dump is the whole database in one file, secrets included: packed by gzip,
// lines of JSON that say what follows, and below each table's line its rows in
// the text form of COPY (PostgreSQL manual, COPY, text format), ended by \. on a
// line of its own. It restores into a database of the same form (the number of
// the last migration), which is then brought to the newest.
const (
	dumpForm    = "sextant_backup"
	dumpVersion = 1
)

// notDumped are tables that are made anew: the migrations' own, and answers
// that can be computed again.
var notDumped = []string{"schema_migrations", "analysis"}

// DumpFile is a file that goes with a dump.
type DumpFile struct {
	Name string `json:"name"` // with / between folders
	Text string `json:"text"`
}

// Dumped says what a dump holds.
type Dumped struct {
	MadeAt    time.Time
	Migration int    // form of the database
	Rows      int64  // of all tables
	Digest    string // of everything but the time; two dumps with the same digest hold the same
	Files     []DumpFile
}

// dumpLine is each line of JSON; Type says which members count.
type dumpLine struct {
	Type      string    `json:"type"` // dumpForm, "file", "table", "end"
	Version   int       `json:"version,omitempty"`
	Migration int       `json:"migration,omitempty"`
	MadeAt    time.Time `json:"made_at,omitzero"`
	Name      string    `json:"name,omitempty"`
	Text      string    `json:"text,omitempty"`
	Columns   []string  `json:"columns,omitempty"`
	Rows      int64     `json:"rows,omitempty"`
}

// dumpTable is a table as the catalogue tells of it.
type dumpTable struct {
	Name    string
	Columns []string
	Needs   []string // tables that its foreign keys name
}

// Dump writes the whole database as it is at one moment, whatever is written
// meanwhile. What it writes holds password hashes and sessions.
func (db *DB) Dump(ctx context.Context, w io.Writer, files []DumpFile) (done Dumped, err error) {
	defer wrap(&err, "dump the database")
	packed := gzip.NewWriter(w)
	sum := sha256.New()
	done = Dumped{MadeAt: db.clock(), Files: files}
	err = pgx.BeginTxFunc(ctx, db.pool, snapshot, func(tx pgx.Tx) error {
		if done.Migration, err = migrationOf(ctx, tx); err != nil {
			return err
		}
		head := dumpLine{Type: dumpForm, Version: dumpVersion, Migration: done.Migration, MadeAt: done.MadeAt}
		if err := json.NewEncoder(packed).Encode(head); err != nil {
			return err
		}
		out := io.MultiWriter(packed, sum)
		lines := json.NewEncoder(out)
		for _, f := range files {
			if err := lines.Encode(dumpLine{Type: "file", Name: f.Name, Text: f.Text}); err != nil {
				return err
			}
		}
		tables, err := dumpTables(ctx, tx)
		if err != nil {
			return err
		}
		for _, t := range tables {
			if err := lines.Encode(dumpLine{Type: "table", Name: t.Name, Columns: t.Columns}); err != nil {
				return err
			}
			tag, err := tx.Conn().PgConn().CopyTo(ctx, out, "copy "+t.target()+" to stdout")
			if err != nil {
				return fmt.Errorf("table %s: %w", t.Name, err)
			}
			if _, err := io.WriteString(out, endOfRows+"\n"); err != nil {
				return err
			}
			done.Rows += tag.RowsAffected()
		}
		return lines.Encode(dumpLine{Type: "end", Rows: done.Rows})
	})
	done.Digest = hex.EncodeToString(sum.Sum(nil))
	return done, errors.Join(err, packed.Close())
}

// endOfRows ends a table's rows; no row looks like it, since COPY writes a
// backslash as two.
const endOfRows = `\.`

// target is the table with its columns, as COPY wants it.
func (t dumpTable) target() string {
	columns := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		columns[i] = pgx.Identifier{c}.Sanitize()
	}
	return pgx.Identifier{"public", t.Name}.Sanitize() + " (" + strings.Join(columns, ", ") + ")"
}

// migrationOf is the last migration that the database has seen.
func migrationOf(ctx context.Context, q querier) (int, error) {
	var version int
	var dirty bool
	if err := q.QueryRow(ctx, `select version, dirty from schema_migrations`).Scan(&version, &dirty); err != nil {
		return 0, err
	}
	if dirty {
		return 0, fmt.Errorf("%w: migration %d of the database was cut off", ErrInvalid, version)
	}
	return version, nil
}

// dumpTables lists the tables, each after those that it needs.
func dumpTables(ctx context.Context, q querier) ([]dumpTable, error) {
	rows, err := q.Query(ctx, `
		select
			c.relname as name,
			array(
				select a.attname::text
				from pg_attribute a
				where a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped and a.attgenerated = ''
				order by a.attnum
			) as columns,
			array(
				select distinct f.relname::text
				from pg_constraint k
				join pg_class f on f.oid = k.confrelid
				where k.conrelid = c.oid and k.contype = 'f' and k.confrelid <> c.oid
				order by 1
			) as needs
		from pg_class c
		where c.relnamespace = 'public'::regnamespace and c.relkind = 'r' and c.relname <> all ($1)
		order by c.relname`, notDumped)
	if err != nil {
		return nil, err
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByName[dumpTable])
	if err != nil {
		return nil, err
	}
	return inOrder(found)
}

// inOrder sorts tables so that each comes after those that it needs.
func inOrder(tables []dumpTable) ([]dumpTable, error) {
	var out []dumpTable
	placed := map[string]bool{}
	for len(out) < len(tables) {
		before := len(out)
		for _, t := range tables {
			ready := !slices.ContainsFunc(t.Needs, func(n string) bool { return !placed[n] })
			if !placed[t.Name] && ready {
				placed[t.Name] = true
				out = append(out, t)
			}
		}
		if len(out) == before {
			return nil, errors.New("tables need each other in a circle")
		}
	}
	return out, nil
}

// RestoreDump brings a dump back into the database at url, which must be empty
// (no tables, or no rows in them), and then to the newest form. Either all of it
// is there afterwards or nothing. Change numbers get a gap, so that a device
// that saw later ones is told to start again. ErrExists: there is something in
// the database; *LineError or ErrInvalid: the file is not a whole dump, or one
// of a newer program.
func RestoreDump(ctx context.Context, url string, r io.Reader, opt Options) (done Dumped, err error) {
	defer wrap(&err, "restore the database")
	in, err := openDump(r)
	if err != nil {
		return Dumped{}, err
	}
	if in.head.Migration > newestMigration() {
		return Dumped{}, fmt.Errorf("%w: the back-up was made by a newer Sextant than this one (form %d of the database, this one knows %d): restore it with that one or a newer",
			ErrInvalid, in.head.Migration, newestMigration())
	}
	db, err := Open(ctx, url, opt)
	if err != nil {
		return Dumped{}, err
	}
	defer db.Close()
	if err := db.checkEmpty(ctx); err != nil {
		return Dumped{}, err
	}
	if err := migrateTo(ctx, url, in.head.Migration); err != nil {
		return Dumped{}, err
	}
	if done, err = db.restoreDump(ctx, in); err != nil {
		return Dumped{}, err
	}
	return done, Migrate(ctx, url)
}

// ReadDump reads a dump through, without a database: whether it is whole, and
// what it holds.
func ReadDump(r io.Reader) (Dumped, error) {
	in, err := openDump(r)
	if err != nil {
		return Dumped{}, err
	}
	return in.each(func(_ dumpTable, rows io.Reader) (int64, error) {
		_, err := io.Copy(io.Discard, rows)
		return rows.(*rowReader).n, err
	})
}

// checkEmpty refuses a database that has rows.
func (db *DB) checkEmpty(ctx context.Context) error {
	tables, err := dumpTables(ctx, db.pool)
	if err != nil {
		return err
	}
	for _, t := range tables {
		var some bool
		if err := db.pool.QueryRow(ctx, "select exists (select from "+pgx.Identifier{"public", t.Name}.Sanitize()+")").Scan(&some); err != nil {
			return err
		}
		if some && t.Name != "setting" { // a first start leaves the hash of a set-up link there
			return fmt.Errorf("%w: the database is in use, table %s has rows; restore into a new data folder or an empty database", ErrExists, t.Name)
		}
	}
	return nil
}

func (db *DB) restoreDump(ctx context.Context, in *dumpReader) (done Dumped, err error) {
	// The file can be read once, so this is no db.tx; nobody else is here.
	err = pgx.BeginTxFunc(ctx, db.pool, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `truncate setting`); err != nil {
			return err
		}
		done, err = in.each(func(t dumpTable, rows io.Reader) (int64, error) {
			if slices.Contains(notDumped, t.Name) {
				return 0, fmt.Errorf("table %s has no place in a back-up", t.Name)
			}
			tag, err := tx.Conn().PgConn().CopyFrom(ctx, rows, "copy "+t.target()+" from stdin")
			return tag.RowsAffected(), err
		})
		if err != nil {
			return err
		}
		return db.leaveGaps(ctx, tx)
	})
	return done, err
}

// leaveGaps moves each event's change number far ahead; see restoreGap.
func (db *DB) leaveGaps(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `update event set change_no = change_no + $1 returning event_id`, restoreGap)
	if err != nil {
		return err
	}
	events, err := pgx.CollectRows(rows, pgx.RowTo[[16]byte])
	if err != nil {
		return err
	}
	for _, id := range events {
		if _, err := db.publish(ctx, tx, id, true, []change{{kind: ChangeEvent, audience: forAll}}); err != nil {
			return err
		}
	}
	return nil
}

// dumpReader reads a dump from its start to its end.
type dumpReader struct {
	in   *bufio.Reader
	head dumpLine
	line int
}

// openDump reads the head.
func openDump(r io.Reader) (*dumpReader, error) {
	unpacked, err := gzip.NewReader(r)
	if err != nil {
		return nil, &LineError{1, "this is not a back-up of Sextant: " + err.Error()}
	}
	d := &dumpReader{in: bufio.NewReaderSize(unpacked, 1<<16)}
	if d.head, err = d.next(); err != nil {
		return nil, err
	}
	switch {
	case d.head.Type != dumpForm:
		return nil, &LineError{1, "this is not a back-up of Sextant"}
	case d.head.Version != dumpVersion:
		return nil, &LineError{1, fmt.Sprintf("version %d of the form is not known here, only %d: restore with the Sextant that wrote it, or a newer one", d.head.Version, dumpVersion)}
	case d.head.Migration < 1:
		return nil, &LineError{1, "migration is missing"}
	}
	return d, nil
}

// next reads a line of JSON.
func (d *dumpReader) next() (l dumpLine, err error) {
	d.line++
	text, err := readLine(d.in)
	if err != nil {
		return l, d.because(err)
	}
	if err := json.Unmarshal(text, &l); err != nil {
		return l, &LineError{d.line, "this is not a line of a back-up: " + err.Error()}
	}
	return l, nil
}

// readLine reads to the end of a line of at most maxLine bytes.
func readLine(in *bufio.Reader) ([]byte, error) {
	var out []byte
	for {
		part, err := in.ReadSlice('\n')
		if len(out)+len(part) > maxLine {
			return nil, fmt.Errorf("the line is longer than %d MB", maxLine>>20)
		}
		out = append(out, part...)
		if !errors.Is(err, bufio.ErrBufferFull) {
			return out, err
		}
	}
}

// because names the place of an error; a file that ends early was cut off.
func (d *dumpReader) because(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return &LineError{d.line, "the file ends before the end of the back-up: it was cut off. Use another copy"}
	}
	return &LineError{d.line, err.Error()}
}

// each hands every table's rows to take, which tells how many there were, and
// then checks that the file is whole.
func (d *dumpReader) each(take func(t dumpTable, rows io.Reader) (int64, error)) (Dumped, error) {
	done := Dumped{MadeAt: d.head.MadeAt, Migration: d.head.Migration}
	for {
		l, err := d.next()
		if err != nil {
			return done, err
		}
		switch l.Type {
		case "file":
			done.Files = append(done.Files, DumpFile{l.Name, l.Text})
		case "table":
			rows := &rowReader{dump: d}
			n, err := take(dumpTable{Name: l.Name, Columns: l.Columns}, rows)
			if err = cmp.Or(rows.err, err); err != nil {
				return done, fmt.Errorf("table %s: %w", l.Name, err)
			}
			done.Rows += n
		case "end":
			if l.Rows != done.Rows {
				return done, &LineError{d.line, fmt.Sprintf("the back-up had %d rows and this file has %d", l.Rows, done.Rows)}
			}
			if _, err := d.in.ReadByte(); !errors.Is(err, io.EOF) { // the check sum stands behind the end
				return done, &LineError{d.line, fmt.Sprintf("the file is damaged: %v", cmp.Or(err, errors.New("something stands behind its end")))}
			}
			return done, nil
		default:
			return done, &LineError{d.line, fmt.Sprintf("lines of type %.40q are not known here; they may be from a newer Sextant", l.Type)}
		}
	}
}

// rowReader reads the rows of one table.
type rowReader struct {
	dump *dumpReader
	rest []byte
	n    int64
	end  bool
	err  error // of the file
}

// Read implements io.Reader.
func (r *rowReader) Read(p []byte) (int, error) {
	for len(r.rest) == 0 {
		if r.end {
			return 0, io.EOF
		}
		r.dump.line++
		line, err := readLine(r.dump.in)
		if err != nil {
			r.err = r.dump.because(err)
			return 0, r.err
		}
		if string(line) == endOfRows+"\n" {
			r.end = true
			return 0, io.EOF
		}
		r.n++
		r.rest = line
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}
