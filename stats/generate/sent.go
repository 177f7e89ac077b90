package generate

import (
	"fmt"
	"hash/fnv"
	"slices"

	"sextant/stats/record"
)

// Sent says who watches which robot, by scout.
type Sent map[string]record.TeamID

// Watch is what scouts write about the robots of match i (from 0) that they are
// sent to, in the order of their names, instead of those of their turn. Who is
// sent to the same robot in the same match always writes the same, whoever else
// watches; now and then (as Options.Watched says) somebody misses the match, or
// takes a partner of the robot for it. The error: a scout or a robot that is
// not there.
func (w *World) Watch(i int, sent Sent) ([]record.Observation, error) {
	m := &w.schedule[i]
	p := w.run(source(w.seeds[i].play), i)
	teams := slices.Concat(m.Red.Teams, m.Blue.Teams)
	size := len(m.Red.Teams)
	var out []record.Observation
	for k := range w.scouts {
		s := &w.scouts[k]
		team, ok := sent[s.name]
		if !ok {
			continue
		}
		at := slices.Index(teams, team)
		if at < 0 {
			return nil, fmt.Errorf("%s is sent to %s, which does not play in %s", s.name, team, m.ID)
		}
		h := fnv.New64a()
		h.Write([]byte(s.name + " " + string(team)))
		rng := source([2]uint64{w.seeds[i].watch[0], w.seeds[i].watch[1] ^ h.Sum64()})
		if rng.Float64() >= w.opt.Watched || i >= s.away[0] && i < s.away[1] {
			continue
		}
		if size > 1 && rng.Float64() < slipRobot*s.slips {
			at = at/size*size + (at%size+1+rng.IntN(size-1))%size
		}
		o, _ := w.write(rng, s, m.ID, team, &p.robots[at])
		out = append(out, o)
	}
	for name := range sent {
		if !slices.ContainsFunc(w.scouts, func(s scout) bool { return s.name == name }) {
			return nil, fmt.Errorf("no scout is called %s", name)
		}
	}
	return out, nil
}
