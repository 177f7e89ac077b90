package game

import (
	"slices"
	"strings"
	"time"
)

// reserved are the fixed column names of the tables: no id may be one of them.
var reserved = []string{
	"match", "play", "team", "scout", "absent", "note",
	"starts_at", "alliance", "teams", "surrogates", "disqualified", "cards",
	"score", "from_fouls", "ranking_points",
}

// checker collects what breaks the rules that a schema cannot say.
type checker struct {
	g        *Game
	problems Problems
	periods  map[string]*Period
	actions  map[string]*Action
	bonuses  map[string]*Bonus
	parts    map[string]*Component
	points   map[string]bool // ids of ranking points
}

func (c *checker) problem(pointer, format string, args ...any) {
	c.problems = append(c.problems, problemf(pointer, format, args...))
}

// checkRules tells what a game breaks of the rules beyond the schema.
func checkRules(g *Game) Problems {
	c := &checker{
		g:       g,
		periods: map[string]*Period{}, actions: map[string]*Action{}, bonuses: map[string]*Bonus{},
		parts: map[string]*Component{}, points: map[string]bool{},
	}
	c.ids()
	c.checkPeriods()
	c.checkActions()
	c.checkSums()
	c.checkConditions()
	c.checkWeekend()
	c.checkQuestions()
	return c.problems
}

// ids checks the namespaces and fills the indexes.
func (c *checker) ids() {
	seen := map[string]string{}
	one := func(id, what, pointer string) {
		if other, ok := seen[id]; ok {
			c.problem(pointer, "%q is already the id of %s; actions, fouls, questions, components and bonuses share one set of ids: choose another", id, other)
		}
		seen[id] = what
		if slices.Contains(reserved, id) {
			c.problem(pointer, "%q is the name of a fixed column of the tables; choose another id", id)
		}
		for _, end := range []string{"_missed", "_tried"} {
			if strings.HasSuffix(id, end) {
				c.problem(pointer, "an id may not end in %s, which the tables use; choose another", end)
			}
		}
	}
	for i := range c.g.Actions {
		a := &c.g.Actions[i]
		one(a.ID, "an action", Pointer("actions", i, "id"))
		c.actions[a.ID] = a
		options := map[string]bool{}
		for j, o := range a.Options {
			if options[o.ID] {
				c.problem(Pointer("actions", i, "options", j, "id"), "%q is already an option of this action; choose another id", o.ID)
			}
			options[o.ID] = true
		}
	}
	for i := range c.g.Bonuses {
		one(c.g.Bonuses[i].ID, "a bonus", Pointer("bonuses", i, "id"))
		c.bonuses[c.g.Bonuses[i].ID] = &c.g.Bonuses[i]
	}
	for i, f := range c.g.Fouls {
		one(f.ID, "a foul", Pointer("fouls", i, "id"))
	}
	for i := range c.g.Components {
		one(c.g.Components[i].ID, "a component", Pointer("components", i, "id"))
		c.parts[c.g.Components[i].ID] = &c.g.Components[i]
	}
	for i, q := range c.g.Questions {
		one(q.ID, "a question", Pointer("questions", i, "id"))
	}
	for i, p := range c.g.RankingPoints {
		if c.points[p.ID] {
			c.problem(Pointer("ranking_points", i, "id"), "%q is already the id of a ranking point; choose another", p.ID)
		}
		c.points[p.ID] = true
	}
}

func (c *checker) checkPeriods() {
	for i := range c.g.Periods {
		p := &c.g.Periods[i]
		if c.periods[p.ID] != nil {
			c.problem(Pointer("periods", i, "id"), "%q is already the id of a period; choose another", p.ID)
		}
		c.periods[p.ID] = p
	}
	inside := map[string]bool{}
	for i, p := range c.g.Periods {
		if p.Within == "" {
			continue
		}
		at := Pointer("periods", i, "within")
		host := c.periods[p.Within]
		switch {
		case host == nil:
			c.problem(at, "%q is no period; write the id of one of periods", p.Within)
		case p.Within == p.ID:
			c.problem(at, "a period cannot be within itself; name another, or take within away")
		case host.Within != "":
			c.problem(at, "%q is itself within a period; name one that is not", p.Within)
		case inside[p.Within]:
			c.problem(at, "%q has its last part already; only one period can be its last part", p.Within)
		case p.Seconds > host.Seconds:
			c.problem(Pointer("periods", i, "seconds"), "%g seconds is longer than %q, which this period is within; write %g or less", p.Seconds, p.Within, host.Seconds)
		case slices.IndexFunc(c.g.Periods, func(q Period) bool { return q.ID == p.Within }) > i:
			c.problem(at, "%q stands below; put a period after the one that it is within", p.Within)
		}
		inside[p.Within] = true
	}
}

func (c *checker) checkActions() {
	for i, a := range c.g.Actions {
		if a.Period != "" && c.periods[a.Period] == nil {
			c.problem(Pointer("actions", i, "period"), "%q is no period; write the id of one of periods, or take it away for an action at any time", a.Period)
		}
		if a.Helps == "" {
			continue
		}
		switch helped := c.actions[a.Helps]; {
		case helped == nil:
			c.problem(Pointer("actions", i, "helps"), "%q is no action; write the id of the action that this one makes possible", a.Helps)
		case a.Helps == a.ID:
			c.problem(Pointer("actions", i, "helps"), "an action cannot help itself; name another, or take helps away")
		}
	}
	for i, f := range c.g.Fouls {
		if f.OpponentGains != "" && !c.points[f.OpponentGains] {
			c.problem(Pointer("fouls", i, "opponent_gains"), "%q is no ranking point; write the id of one of ranking_points", f.OpponentGains)
		}
	}
}

// countable checks a list of actions whose units are counted.
func (c *checker) countable(ids []string, parts ...any) {
	for i, id := range ids {
		a := c.actions[id]
		at := Pointer(append(slices.Clone(parts), i)...)
		switch {
		case a == nil:
			c.problem(at, "%q is no action; write the id of an action of kind count, flag or volume", id)
		case a.Kind == Choice:
			c.problem(at, "%q is a choice, which has no units to count; write an action of kind count, flag or volume", id)
		}
	}
}

func (c *checker) checkSums() {
	for i, l := range c.g.Limits {
		c.countable(l.Count, "limits", i, "count")
	}
	for i, b := range c.g.Bonuses {
		if b.ForEach != nil {
			c.countable(b.ForEach.Count, "bonuses", i, "for_each", "count")
		}
	}
	for i, part := range c.g.Components {
		c.countable(part.Count, "components", i, "count")
		for j, id := range part.Sum {
			if c.actions[id] == nil && c.bonuses[id] == nil {
				c.problem(Pointer("components", i, "sum", j), "%q is no action and no bonus; write the id of one", id)
			}
		}
	}
}

func (c *checker) checkConditions() {
	for i, b := range c.g.Bonuses {
		if b.When == nil {
			continue
		}
		c.condition(*b.When, Pointer("bonuses", i, "when"), true)
		if c.dependsOn(b.ID, *b.When, map[string]bool{}) {
			c.problem(Pointer("bonuses", i, "when"), "this bonus depends on a component that sums the bonus itself; take it out of one of the two")
		}
	}
	for i, p := range c.g.RankingPoints {
		c.condition(p.When, Pointer("ranking_points", i, "when"), false)
	}
}

// condition checks one condition and those inside it.
func (c *checker) condition(t Condition, at string, inBonus bool) {
	if t.Outcome != "" && inBonus {
		c.problem(at, "a bonus is part of the score, so it cannot depend on who wins; write another condition")
	}
	if t.Component != "" && c.parts[t.Component] == nil {
		c.problem(at+"/component", "%q is no component; write the id of one of components", t.Component)
	}
	if t.AtLeast != nil && t.AtLeast.Name != "" {
		if _, ok := c.g.Values[t.AtLeast.Name]; !ok {
			c.problem(at+"/at_least", "%q is not in values; write a number or the name of one of values", t.AtLeast.Name)
		}
	}
	if t.Both != "" {
		switch a := c.actions[t.Both]; {
		case a == nil:
			c.problem(at+"/both", "%q is no action; write the id of an action with \"by\": \"alliance\"", t.Both)
		case a.By != "alliance" || a.Kind == Choice:
			c.problem(at+"/both", "%q is not a thing that an alliance does; write a flag or count with \"by\": \"alliance\"", t.Both)
		}
	}
	for i, u := range t.Any {
		c.condition(u, at+Pointer("any", i), inBonus)
	}
	for i, u := range t.All {
		c.condition(u, at+Pointer("all", i), inBonus)
	}
}

// dependsOn reports whether a condition needs the bonus with the given id to be
// known first.
func (c *checker) dependsOn(bonus string, t Condition, seen map[string]bool) bool {
	for _, id := range t.components() {
		if seen[id] || c.parts[id] == nil {
			continue
		}
		seen[id] = true
		for _, summed := range c.parts[id].Sum {
			b := c.bonuses[summed]
			if b != nil && (b.ID == bonus || b.When != nil && c.dependsOn(bonus, *b.When, seen)) {
				return true
			}
		}
	}
	return false
}

// components are the ids of the components that a condition looks at.
func (t Condition) components() []string {
	var out []string
	if t.Component != "" {
		out = append(out, t.Component)
	}
	for _, u := range slices.Concat(t.Any, t.All) {
		out = append(out, u.components()...)
	}
	return out
}

// formatSize is how many alliances a playoff format takes at most; 0: any number.
var formatSize = map[string]int{
	"double_elimination_8": 8, "single_elimination_2": 2, "single_elimination_4": 4, "single_elimination_8": 8, "round_robin": 0,
}

func (c *checker) checkWeekend() {
	for i, name := range c.g.RankingOrder {
		if name != "ranking_points" && name != "score" && c.parts[name] == nil {
			c.problem(Pointer("ranking_order", i), "%q is nothing to rank by; write ranking_points, score or the id of a component", name)
		}
	}
	if p := c.g.Playoff; p != nil {
		for i, name := range p.TieOrder {
			if c.parts[name] == nil {
				c.problem(Pointer("playoff", "tie_order", i), "%q is no component; write the id of one of components", name)
			}
		}
		if s, size := c.g.Selection, formatSize[p.Format]; s != nil && size > 0 && s.Alliances > size {
			c.problem(Pointer("playoff", "format"), "%s has room for %d alliances, and the selection forms %d; choose another format or fewer alliances", p.Format, size, s.Alliances)
		}
	}
	if f := c.g.Field; f != nil {
		places := map[string]bool{}
		for i, p := range f.Places {
			if places[p.ID] {
				c.problem(Pointer("field", "places", i, "id"), "%q is already the id of a place; choose another", p.ID)
			}
			places[p.ID] = true
		}
	}
}

func (c *checker) checkQuestions() {
	roles, claims := map[string]string{}, map[string]string{}
	for i, q := range c.g.Questions {
		if q.Min != nil && q.Max != nil && *q.Min > *q.Max {
			c.problem(Pointer("questions", i, "min"), "min %g is above max %g; exchange them", *q.Min, *q.Max)
		}
		switch {
		case q.Role == RoleClaim:
			a := c.actions[q.Action]
			switch {
			case a == nil:
				c.problem(Pointer("questions", i, "action"), "%q is no action; write the id of the action that the claim speaks of", q.Action)
			case a.Kind != Count && a.Kind != Volume:
				c.problem(Pointer("questions", i, "action"), "%q is a %s; a claim is a number and speaks of an action of kind count or volume", q.Action, a.Kind)
			case claims[q.Action] != "":
				c.problem(Pointer("questions", i, "action"), "%q asks for a claim about this action already; keep one", claims[q.Action])
			}
			claims[q.Action] = q.ID
		case q.Role != "":
			if other := roles[q.Role]; other != "" {
				c.problem(Pointer("questions", i, "role"), "%q has this role already; a role is given once", other)
			}
			roles[q.Role] = q.ID
		}
	}
}

// checkEvent tells what an event file breaks of the rules beyond the schema.
func checkEvent(g *Game, s *EventSettings, doc *Document) Problems {
	c := &checker{g: g}
	if s.TimeZone != "" {
		if _, err := time.LoadLocation(s.TimeZone); err != nil || s.TimeZone == "Local" {
			c.problem("/time_zone", "%q is not in the time zone database; write a name such as America/Chicago", s.TimeZone)
		}
	}
	if event, ok := doc.Value.(map[string]any); ok {
		values, _ := event["values"].(map[string]any)
		for name := range values {
			if _, ok := g.Values[name]; !ok {
				c.problem(Pointer("values", name), "the game has no value of this name; correct its spelling or take it out")
			}
		}
	}
	return c.problems
}
