package table

import (
	"fmt"
	"strings"
)

// Error is one thing that is wrong with a file.
type Error struct {
	File    string `json:"file"`
	Line    int    `json:"line,omitempty"`   // from 1, where the row or the cell begins; 0: the whole file
	Column  string `json:"column,omitempty"` // name of the column; "": the whole row
	Message string `json:"message"`          // what is wrong and what to do
}

// Error writes "matches.csv:12: column score: …".
func (e Error) Error() string {
	var parts []string
	switch {
	case e.File != "" && e.Line > 0:
		parts = append(parts, fmt.Sprintf("%s:%d", e.File, e.Line))
	case e.File != "":
		parts = append(parts, e.File)
	case e.Line > 0:
		parts = append(parts, fmt.Sprintf("line %d", e.Line))
	}
	if e.Column != "" {
		parts = append(parts, "column "+e.Column)
	}
	return strings.Join(append(parts, e.Message), ": ")
}

// Errors are all that is wrong with one or several files, in the order of
// reading, at most maxErrors of them. It is the error type of the package.
type Errors []Error

// maxErrors caps how many errors of one file are told.
const maxErrors = 100

// Error gives the first error and says how many more there are, on one line.
func (es Errors) Error() string {
	switch len(es) {
	case 0:
		return "no errors"
	case 1:
		return es[0].Error()
	}
	return fmt.Sprintf("%s (and %d more)", es[0].Error(), len(es)-1)
}

// err is nil when there are no errors.
func (es Errors) err() error {
	if len(es) == 0 {
		return nil
	}
	return es
}

// add notes an error unless there are too many already.
func (es *Errors) add(e Error) {
	if len(*es) < maxErrors {
		*es = append(*es, e)
	}
}
