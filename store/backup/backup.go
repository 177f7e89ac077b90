// Package backup keeps back-ups of a whole database in a folder: it writes them
// at once or on a schedule, under names that say when, readable by their owner
// only, and removes old ones by age. What stands in them is package store's
// business (Dump, RestoreDump); when and where is the caller's (cmd). It imports
// store alone.
//
//	f := backup.Folder{Dir: dir}
//	name, err := f.Write(ctx, db, "", nil)
//	err = f.Tidy()
package backup

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"sextant/store"
)

// Folder is where the back-ups of one database are. Only one process writes
// into it at a time.
type Folder struct {
	Dir string
	Now func() time.Time // nil: time.Now

	digest, newest string // of the last one that this process wrote
}

// Entry is one back-up.
type Entry struct {
	Path string
	At   time.Time
	Why  string // "" on schedule, else why it was made, such as before-2
}

// The name says when, in UTC, and why. It sorts by time.
const stamp = "20060102T150405Z"

var form = regexp.MustCompile(`^sextant-(\d{8}T\d{6}Z)(?:-([a-z0-9-]+))?\.backup$`)

func (f *Folder) now() time.Time {
	if f.Now == nil {
		return time.Now()
	}
	return f.Now()
}

// Write makes a back-up and returns its path. It appears when it is whole and
// on the disk. One that would hold the same as the last one of this process is
// not kept: the last one's path is returned then. why is of a to z, 0 to 9 and
// hyphens, or empty.
func (f *Folder) Write(ctx context.Context, db *store.DB, why string, files []store.DumpFile) (string, error) {
	if err := os.MkdirAll(f.Dir, 0o700); err != nil {
		return "", fmt.Errorf("make the folder of back-ups: %w", err)
	}
	path, digest, err := write(ctx, db, filepath.Join(f.Dir, Name(f.now(), why)), files, f.digest)
	if errors.Is(err, errSame) {
		return f.newest, nil
	}
	if err != nil {
		return "", err
	}
	f.digest, f.newest = digest, path
	return path, nil
}

// Name is the name of a back-up.
func Name(at time.Time, why string) string {
	if why != "" {
		why = "-" + why
	}
	return "sextant-" + at.UTC().Format(stamp) + why + ".backup"
}

// WriteFile makes a back-up in a file of any name.
func WriteFile(ctx context.Context, db *store.DB, path string, files []store.DumpFile) error {
	_, _, err := write(ctx, db, path, files, "")
	return err
}

var errSame = errors.New("nothing has changed")

// write makes a file beside its place and moves it there when it is whole. A
// file that would have the digest same is not made.
func write(ctx context.Context, db *store.DB, path string, files []store.DumpFile, same string) (_, digest string, err error) {
	tmp, err := os.CreateTemp(filepath.Dir(path), ".sextant-backup-*") // 0600
	if err != nil {
		return "", "", fmt.Errorf("back up: %w", err)
	}
	defer func() {
		if err != nil {
			os.Remove(tmp.Name()) // it is of no use to anybody
		}
	}()
	out := bufio.NewWriterSize(tmp, 1<<16)
	done, err := db.Dump(ctx, out, files)
	if err := errors.Join(err, out.Flush(), tmp.Sync(), tmp.Close()); err != nil {
		return "", "", fmt.Errorf("back up to %s: %w", path, err)
	}
	if done.Digest == same {
		return "", "", errSame
	}
	if err := os.Rename(tmp.Name(), path); err != nil {
		return "", "", fmt.Errorf("back up: %w", err)
	}
	return path, done.Digest, syncDir(filepath.Dir(path))
}

// syncDir makes a rename last through a loss of power, where the system can.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrPermission) {
		return err
	}
	return nil
}

// List tells of the back-ups in the folder, the newest first. Other files are
// not looked at; a folder that does not exist has none.
func (f *Folder) List() ([]Entry, error) {
	files, err := os.ReadDir(f.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []Entry
	for _, file := range files {
		m := form.FindStringSubmatch(file.Name())
		if m == nil || !file.Type().IsRegular() {
			continue
		}
		if at, err := time.Parse(stamp, m[1]); err == nil {
			out = append(out, Entry{Path: filepath.Join(f.Dir, file.Name()), At: at, Why: m[2]})
		}
	}
	slices.SortFunc(out, func(a, b Entry) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.Path, a.Path)) })
	return out, nil
}

// Tidy removes what Keep does not want.
func (f *Folder) Tidy() error {
	all, err := f.List()
	if err != nil {
		return err
	}
	var failed error
	for _, e := range Old(all, f.now()) {
		failed = errors.Join(failed, os.Remove(e.Path))
	}
	return failed
}

const (
	day = 24 * time.Hour
	// An event lasts three days and is looked at again the week after; a season
	// lasts half a year.
	keepAll    = day
	keepDaily  = 14 * day
	keepWeekly = 26 * 7 * day
	keepMade   = 60 * day // those that were made for a reason
)

// Old lists the back-ups that may go. Kept are all of the last day, the last of
// each day (UTC) for two weeks, the last of each week for half a year, those
// made for a reason for sixty days, and the newest of all, however old.
func Old(all []Entry, now time.Time) []Entry {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b Entry) int { return b.At.Compare(a.At) })
	var old []Entry
	kept := map[string]bool{} // a day or week that has its last one
	for i, e := range all {
		at := e.At.UTC()
		year, week := at.ISOWeek()
		dayName, weekName := at.Format(time.DateOnly), fmt.Sprintf("%d week %d", year, week)
		age := now.Sub(at)
		switch {
		case i == 0, age < keepAll:
		case e.Why != "" && age < keepMade:
			continue // and it stands for no day
		case age < keepDaily && !kept[dayName]:
		case age < keepWeekly && !kept[weekName]:
		default:
			old = append(old, e)
			continue
		}
		kept[dayName], kept[weekName] = true, true
	}
	return old
}

// Run writes a back-up at once and then every so often, and removes old ones,
// until ctx ends; done is called after each, with the error or nil.
func (f *Folder) Run(ctx context.Context, db *store.DB, every time.Duration, files func() []store.DumpFile, done func(path string, err error)) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		path, err := f.Write(ctx, db, "", files())
		if ctx.Err() != nil {
			return
		}
		done(path, errors.Join(err, f.Tidy()))
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
