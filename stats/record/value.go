package record

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"sextant/stats/game"
)

// CheckAnswer says why an answer does not fit a question.
func CheckAnswer(q *game.Question, a game.Answer) error {
	switch q.Kind {
	case "number":
		if a.Number == nil {
			return errors.New("write a number")
		}
		if q.Min != nil && *a.Number < *q.Min || q.Max != nil && *a.Number > *q.Max {
			return fmt.Errorf("%g is out of range; write a number %s", *a.Number, span(q))
		}
		return CheckScore(*a.Number)
	case "flag":
		if a.Flag == nil {
			return errors.New("write yes or no")
		}
	case "choice":
		if a.Text == nil || !slices.Contains(q.Options, *a.Text) {
			return fmt.Errorf("write one of %s", strings.Join(q.Options, ", "))
		}
	case "text":
		if a.Text == nil {
			return errors.New("write a text")
		}
		return CheckText(*a.Text, MaxText)
	default:
		return fmt.Errorf("a question of kind %s is not answered for one robot", q.Kind)
	}
	return nil
}

func span(q *game.Question) string {
	switch {
	case q.Min != nil && q.Max != nil:
		return fmt.Sprintf("from %g to %g", *q.Min, *q.Max)
	case q.Min != nil:
		return fmt.Sprintf("of %g or more", *q.Min)
	}
	return fmt.Sprintf("of %g or less", *q.Max)
}

// CheckRobotValue says why a text is no official value of one robot for an
// action: an option of a choice, 0 or 1 of a flag, a count of the others.
func CheckRobotValue(a *game.Action, value string) error {
	switch a.Kind {
	case game.Choice:
		if _, ok := a.Option(value); !ok {
			ids := make([]string, len(a.Options))
			for i, o := range a.Options {
				ids[i] = o.ID
			}
			return fmt.Errorf("%q is no option; write one of %s, or - when it is not known", value, strings.Join(ids, ", "))
		}
	case game.Flag:
		if value != "0" && value != "1" {
			return fmt.Errorf("%q is neither 0 nor 1; write one of them, or - when it is not known", value)
		}
	default:
		n, err := strconv.Atoi(value)
		if err != nil || strconv.Itoa(n) != value {
			return fmt.Errorf("%q is not a whole number; write one, or - when it is not known", value)
		}
		return CheckCount(float64(n))
	}
	return nil
}
