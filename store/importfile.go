package store

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// LineError is a line of a file that cannot be read.
type LineError struct {
	Line    int // from 1
	Message string
}

func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.Message) }

// exportFile is a whole export, read and checked.
type exportFile struct {
	head      headLine
	game      gameLine
	event     eventLine
	teams     []record.Team
	matches   []record.Match
	members   []memberLine
	revisions []revisionLine
	blobs     []blobLine
	changes   []changeLine
	audit     []auditLine
}

// maxLine is the length of a line that is still read, in bytes; the largest
// record has a few thousand taps.
const maxLine = 16 << 20

func readExport(r io.Reader) (*exportFile, error) {
	in := bufio.NewScanner(r)
	in.Buffer(nil, maxLine)
	var f exportFile
	n, ended := 0, false
	for in.Scan() {
		n++
		if len(bytes.TrimSpace(in.Bytes())) == 0 && ended {
			continue
		}
		if ended {
			return nil, &LineError{n, "there is something behind the end of the export"}
		}
		var err error
		if ended, err = f.take(n, in.Bytes()); err != nil {
			return nil, &LineError{n, err.Error()}
		}
	}
	switch {
	case errors.Is(in.Err(), bufio.ErrTooLong):
		return nil, &LineError{n + 1, fmt.Sprintf("the line is longer than %d MB", maxLine>>20)}
	case in.Err() != nil:
		return nil, in.Err()
	case n == 0:
		return nil, &LineError{1, "the file is empty"}
	case !ended:
		return nil, &LineError{n + 1, "the file ends before the end of the export: it was cut off. Export again, or use another copy"}
	}
	return &f, nil
}

// take reads one line.
func (f *exportFile) take(n int, line []byte) (ended bool, err error) {
	var l struct {
		Type string `json:"type"`
	}
	if err := json.Unmarshal(line, &l); err != nil {
		return false, fmt.Errorf("this is not a line of JSON: %w", err)
	}
	if n == 1 {
		if l.Type != exportForm {
			return false, errors.New(`this is not the export of an event: the first line must have "type": "` + exportForm + `"`)
		}
		if err := json.Unmarshal(line, &f.head); err != nil {
			return false, err
		}
		if f.head.Version != exportVersion {
			return false, fmt.Errorf("version %d of the form is not known here, only %d: import with the Sextant that wrote it, or a newer one", f.head.Version, exportVersion)
		}
		if f.head.EventID == uuid.Nil {
			return false, errors.New("event_id is missing")
		}
		return false, nil
	}
	switch l.Type {
	case "game":
		return false, json.Unmarshal(line, &f.game)
	case "event":
		return false, f.takeEvent(line)
	case "team":
		return false, add(&f.teams, line, func(l *teamLine) (record.Team, error) { return l.Team, nil })
	case "match":
		return false, add(&f.matches, line, func(l *matchLine) (record.Match, error) { return l.schedule(), nil })
	case "member":
		return false, add(&f.members, line, keep[memberLine])
	case "revision":
		return false, add(&f.revisions, line, checkRevisionLine)
	case "blob":
		return false, add(&f.blobs, line, checkBlobLine)
	case "change":
		return false, add(&f.changes, line, keep[changeLine])
	case "audit":
		return false, add(&f.audit, line, keep[auditLine])
	case "end":
		var end endLine
		if err := json.Unmarshal(line, &end); err != nil {
			return false, err
		}
		if end.Lines != n {
			return false, fmt.Errorf("the export had %d lines and this file has %d: some are missing or were added", end.Lines, n)
		}
		if f.game.Hash == "" || f.event.Name == "" {
			return false, errors.New("the export has no game or no event")
		}
		return true, nil
	}
	return false, fmt.Errorf("lines of type %.40q are not known here; they may be from a newer Sextant", l.Type)
}

func (f *exportFile) takeEvent(line []byte) error {
	if err := json.Unmarshal(line, &f.event); err != nil {
		return err
	}
	overrides, err := cleanBody(orEmpty(f.event.Overrides))
	if err != nil {
		return fmt.Errorf("overrides: %w", err)
	}
	f.event.Overrides = overrides
	if _, err := priorOf(f.event.Prior); err != nil {
		return err
	}
	if f.game.Hash != f.event.GameHash {
		return errors.New("the game of the event is not in the file before it")
	}
	return nil
}

func add[L, T any](to *[]T, line []byte, make func(*L) (T, error)) error {
	var l L
	if err := json.Unmarshal(line, &l); err != nil {
		return err
	}
	v, err := make(&l)
	if err == nil {
		*to = append(*to, v)
	}
	return err
}

func checkBlobLine(l *blobLine) (blobLine, error) {
	switch _, ok := l.digest(); {
	case !ok:
		return *l, fmt.Errorf("picture %.70q: its name is no SHA-256 in hexadecimal", l.SHA256)
	case l.Media != "image/jpeg" && l.Media != "image/png" || len(l.Bytes) == 0 || len(l.Bytes) > maxBlob:
		return *l, fmt.Errorf("picture %s: it is no JPEG or PNG of at most %d MB", l.SHA256, maxBlob>>20)
	}
	return *l, nil
}

func keep[L any](l *L) (L, error) { return *l, nil }

// checkRevisionLine checks a revision as Append does, and that its body can be
// read as what its kind is: Load depends on that.
func checkRevisionLine(l *revisionLine) (revisionLine, error) {
	it := Incoming{Revision: l.Revision, Via: l.Via}
	if reason := clean(&it); reason != "" {
		return *l, fmt.Errorf("revision %s: %s", l.RevisionID, reason)
	}
	l.Revision = it.Revision
	var err error
	switch l.Kind {
	case record.KindObservation:
		err = json.Unmarshal(l.Body, new(record.Observation))
	case record.KindResult:
		err = json.Unmarshal(l.Body, new(record.ResultBody))
	case record.KindMark:
		err = json.Unmarshal(l.Body, new(record.Mark))
	case record.KindTraining:
		err = json.Unmarshal(l.Body, new(record.Training))
	case record.KindJudgement:
		err = json.Unmarshal(l.Body, new(record.Judgement))
	}
	if err != nil {
		err = fmt.Errorf("revision %s: its body is no %s: %w", l.RevisionID, l.Kind, err)
	}
	return *l, err
}
