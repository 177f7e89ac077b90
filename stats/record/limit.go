package record

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Limits of what a record may hold. They are far above anything a match can
// bring and stop input that is made to hurt.
const (
	MaxCount = 999  // of one action, foul or step, in one match
	MaxText  = 2000 // characters of a note or a text answer
	MaxName  = 100  // characters of a name: team, pit place, list
	MaxScout = 40   // characters of a nickname
	MaxPlay  = 9
	MaxSteps = 100000  // moves of a selection, those taken back included
	MaxScore = 1000000 // of a score or component, either sign
)

// CheckCount says why n is no count: whole, from 0 to MaxCount.
func CheckCount(n float64) error {
	switch {
	case n != n || n < 0:
		return errors.New("a count is 0 or more")
	case n != math.Trunc(n):
		return errors.New("a count is a whole number")
	case n > MaxCount:
		return fmt.Errorf("a count is %d at most", MaxCount)
	}
	return nil
}

// CheckScore says why n is no score: finite, at most MaxScore either way, and
// not so close to 0 that writing it takes a hundred digits.
func CheckScore(n float64) error {
	switch {
	case n != n || n < -MaxScore || n > MaxScore:
		return fmt.Errorf("write a number from -%d to %d", MaxScore, MaxScore)
	case n != 0 && math.Abs(n) < 1e-9:
		return fmt.Errorf("%g is too close to 0; write 0", n)
	}
	return nil
}

// CheckText says why s is no text of at most limit characters. Line feeds and
// tabs are fine, other control characters are not.
func CheckText(s string, limit int) error {
	if !utf8.ValidString(s) {
		return errors.New("the text is not UTF-8")
	}
	if n := utf8.RuneCountInString(s); n > limit {
		return fmt.Errorf("the text has %d characters; %d is the limit", n, limit)
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return fmt.Errorf("the text has the control character U+%04X; take it out", r)
		}
	}
	return nil
}

// CheckScout says why s is no nickname: 1 to MaxScout characters on one line,
// with no space at either end.
func CheckScout(s string) error {
	switch {
	case s == "":
		return errors.New("the nickname is missing")
	case strings.TrimSpace(s) != s:
		return errors.New("a nickname has no space at either end")
	case strings.ContainsAny(s, "\n\t"):
		return errors.New("a nickname stands on one line")
	}
	return CheckText(s, MaxScout)
}
