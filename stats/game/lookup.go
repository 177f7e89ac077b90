package game

import "fmt"

// Action finds an action by id.
func (g *Game) Action(id string) (*Action, bool) {
	for i := range g.Actions {
		if g.Actions[i].ID == id {
			return &g.Actions[i], true
		}
	}
	return nil, false
}

// Question finds a question by id.
func (g *Game) Question(id string) (*Question, bool) {
	for i := range g.Questions {
		if g.Questions[i].ID == id {
			return &g.Questions[i], true
		}
	}
	return nil, false
}

// QuestionByRole finds the question with a role other than RoleClaim, of which
// there may be several.
func (g *Game) QuestionByRole(role string) (*Question, bool) {
	for i := range g.Questions {
		if g.Questions[i].Role == role {
			return &g.Questions[i], true
		}
	}
	return nil, false
}

// Foul finds a foul by id.
func (g *Game) Foul(id string) (*Foul, bool) {
	for i := range g.Fouls {
		if g.Fouls[i].ID == id {
			return &g.Fouls[i], true
		}
	}
	return nil, false
}

// Component finds a component by id.
func (g *Game) Component(id string) (*Component, bool) {
	for i := range g.Components {
		if g.Components[i].ID == id {
			return &g.Components[i], true
		}
	}
	return nil, false
}

// Period finds a period by id.
func (g *Game) Period(id string) (*Period, bool) {
	for i := range g.Periods {
		if g.Periods[i].ID == id {
			return &g.Periods[i], true
		}
	}
	return nil, false
}

// Option finds an option of a choice by id.
func (a *Action) Option(id string) (*Option, bool) {
	for i := range a.Options {
		if a.Options[i].ID == id {
			return &a.Options[i], true
		}
	}
	return nil, false
}

// Label is the name of an action for people: its name, or its id.
func (a *Action) Label() string {
	if a.Name != "" {
		return a.Name
	}
	return a.ID
}

// ByAlliance reports whether the action belongs to no single robot.
func (a *Action) ByAlliance() bool { return a.By == "alliance" }

// MatchSeconds is how long a match lasts, pauses between periods included.
func (g *Game) MatchSeconds() float64 {
	var sum, pause float64
	for _, p := range g.Periods {
		if p.Within == "" {
			sum += p.Seconds + pause
			pause = p.PauseAfter
		}
	}
	return sum
}

// DriverSeconds is the length of the longest period that is not within
// another: the time that a stop is measured against.
func (g *Game) DriverSeconds() float64 {
	longest := 0.0
	for _, p := range g.Periods {
		if p.Within == "" {
			longest = max(longest, p.Seconds)
		}
	}
	return longest
}

// Value resolves a value of the game: the number, or the named one of Values.
// A name that is not there, which Load refuses, gives 0.
func (g *Game) Value(v Value) float64 {
	if v.Name != "" {
		return g.Values[v.Name]
	}
	return v.Number
}

// CheckUpdate tells what forbids g to take the place of old at an event that
// has records: names, points, caps, order and new ids may change; an id that
// records may hold stays what it was. The error is Problems with pointers into
// g, or into old for what was taken away.
func (g *Game) CheckUpdate(old *Game) error {
	var out Problems
	add := func(pointer, format string, args ...any) {
		out = append(out, Problem{Pointer: pointer, Message: fmt.Sprintf(format, args...)})
	}
	if g.ID != old.ID {
		add("/id", "this is the game %q, and the event has records of %q; make a new event for another game", g.ID, old.ID)
		return out
	}
	if g.Alliance.Robots != old.Alliance.Robots {
		add("/alliance/robots", "the event has matches with %d robots an alliance; that cannot change", old.Alliance.Robots)
	}
	kinds := g.kinds()
	for id, was := range old.kinds() {
		now, ok := kinds[id]
		switch {
		case !ok:
			add(was.pointer, "%q, %s, was taken away, and records may hold it; put it back (with 0 points if it no longer counts)", id, was.what)
		case now.what != was.what:
			add(now.pointer, "%q was %s and cannot become %s; choose a new id", id, was.what, now.what)
		}
	}
	return out.sorted().err()
}

type kindOf struct{ what, pointer string }

// kinds says of each id that a record can hold what it is.
func (g *Game) kinds() map[string]kindOf {
	out := map[string]kindOf{}
	for i, a := range g.Actions {
		what := "an action of kind " + string(a.Kind)
		if a.ByAlliance() {
			what += " by the alliance"
		}
		out[a.ID] = kindOf{what, Pointer("actions", i, "id")}
		if a.Misses {
			out[a.ID+"_missed"] = kindOf{"the misses of " + a.ID, Pointer("actions", i, "misses")}
		}
		if a.Tried {
			out[a.ID+"_tried"] = kindOf{"the tries of " + a.ID, Pointer("actions", i, "tried")}
		}
		for j, o := range a.Options {
			out[a.ID+":"+o.ID] = kindOf{"an option of " + a.ID, Pointer("actions", i, "options", j, "id")}
		}
	}
	for i, f := range g.Fouls {
		out[f.ID] = kindOf{"a foul", Pointer("fouls", i, "id")}
	}
	for i, p := range g.Components {
		what := "a component of points"
		if len(p.Count) > 0 {
			what = "a component of units"
		}
		out[p.ID] = kindOf{what, Pointer("components", i, "id")}
	}
	for i, b := range g.Bonuses {
		out[b.ID] = kindOf{"a bonus", Pointer("bonuses", i, "id")}
	}
	for i, q := range g.Questions {
		out[q.ID] = kindOf{"a question of kind " + q.Kind + " asked at " + q.When, Pointer("questions", i, "id")}
		for j, o := range q.Options {
			out[q.ID+":"+o] = kindOf{"an option of " + q.ID, Pointer("questions", i, "options", j)}
		}
	}
	return out
}
