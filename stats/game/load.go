package game

import (
	"encoding/json"
	"maps"
	_ "time/tzdata" // an event's time zone is checked where the system has no database (browsers, Windows)
)

// Load reads and checks a game file. The error is Problems: everything that is
// wrong, each with its place in the file, a JSON Pointer and a sentence that
// says what to do. Name is the file's name for these sentences. Nothing is
// returned of a file that has a problem.
func Load(name string, data []byte) (*Game, error) {
	doc, problems := ReadJSON(name, data)
	if len(problems) > 0 {
		return nil, problems.sorted()
	}
	g, problems := build(doc)
	return g, problems.err()
}

// build checks a document by the schema and by the rules beyond it.
func build(doc *Document) (*Game, Problems) {
	problems := checkSchema(doc, gameSchema)
	g, err := decode[Game](doc.Value)
	if err != nil {
		// A document of another shape: the schema has said so.
		if len(problems) == 0 {
			problems = Problems{problemf("", "this cannot be read: %v", err)}
		}
		return nil, doc.place(problems)
	}
	if len(problems) > 0 && len(doc.data) > maxSane {
		return nil, doc.place(problems)
	}
	known := map[string]bool{}
	for _, p := range problems {
		known[p.Pointer] = true
	}
	for _, p := range checkRules(g) {
		if !known[p.Pointer] {
			problems = append(problems, p)
		}
	}
	if len(problems) > 0 {
		return nil, doc.place(problems)
	}
	return g, nil
}

// decode turns a tree of values into a T. Whole numbers written as 3.0 are fine.
func decode[T any](tree any) (*T, error) {
	text, err := json.Marshal(tree)
	if err != nil {
		return nil, err
	}
	out := new(T)
	if err := json.Unmarshal(text, out); err != nil {
		return nil, err
	}
	return out, nil
}

// EventSettings is what an event file says beside what it overrides.
type EventSettings struct {
	OurTeam  string `json:"our_team,omitempty"`  // empty: not said
	TimeZone string `json:"time_zone,omitempty"` // IANA name; empty: not said
	// Worth is what a final place (from 1) is worth to us; see PlaceWorth.
	Worth map[int]float64 `json:"worth,omitempty"`
}

// PlaceWorth is what ending at a place (from 1) is worth: by default 1 for
// winning and 0 for everything else.
func (s *EventSettings) PlaceWorth(place int) float64 {
	if len(s.Worth) == 0 && place == 1 {
		return 1
	}
	return s.Worth[place]
}

// Override applies an event file (event.json): the members of its values,
// selection, playoff and field take the place of the game's, member by member.
// The game itself is not changed. The error is Problems.
func (g *Game) Override(name string, eventJSON []byte) (*Game, *EventSettings, error) {
	doc, problems := ReadJSON(name, eventJSON)
	if len(problems) > 0 {
		return nil, nil, problems.sorted()
	}
	problems = checkSchema(doc, eventSchema)
	settings, err := decode[EventSettings](doc.Value)
	if err != nil && len(problems) == 0 {
		problems = Problems{problemf("", "this cannot be read: %v", err)}
	}
	if len(problems) == 0 {
		problems = checkEvent(g, settings, doc)
	}
	if len(problems) > 0 {
		return nil, nil, doc.place(problems)
	}
	tree, err := g.tree()
	if err != nil {
		return nil, nil, err
	}
	event, _ := doc.Value.(map[string]any)
	for _, part := range []string{"values", "selection", "playoff", "field"} {
		over, ok := event[part].(map[string]any)
		if !ok {
			continue
		}
		under, ok := tree[part].(map[string]any)
		if !ok {
			under = map[string]any{}
			tree[part] = under
		}
		maps.Copy(under, over)
	}
	// Problems of the sum of both are told at their place in the event file.
	merged := &Document{Value: tree, name: name, data: doc.data}
	out, problems := build(merged)
	if len(problems) > 0 {
		return nil, nil, problems
	}
	return out, settings, nil
}

// tree is the game as a tree of values, as ReadJSON gives it.
func (g *Game) tree() (map[string]any, error) {
	text, err := json.Marshal(g)
	if err != nil {
		return nil, err
	}
	var tree map[string]any
	err = json.Unmarshal(text, &tree)
	return tree, err
}
