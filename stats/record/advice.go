package record

// Advice is what the calls that we may make are worth to us.
type Advice struct {
	OnTheClock  TeamID      `json:"on_the_clock"`                // captain; empty: all picks are made
	OurAlliance int         `json:"our_alliance"`                // from 1; 0: we are in none and no captain
	OurTurn     bool        `json:"our_turn"`                    // our alliance is on the clock
	Pick        int         `json:"pick"`                        // at which we choose next, counted through all rounds; 0: none that is sure
	NextPick    int         `json:"next_pick"`                   // at which we choose after that; 0: none that is sure
	Candidates  []Candidate `json:"candidates" nullable:"false"` // best first
	Invitation  *Invitation `json:"invitation,omitempty"`        // what to answer the captain on the clock; nil: cannot invite us
	Runs        int         `json:"runs"`                        // worlds drawn
	SE          float64     `json:"se"`                          // the largest of the candidates
}

// Candidate is a robot that we may call when it is our turn.
type Candidate struct {
	Team TeamID `json:"team"`
	// Worth of the event to us if it is called and accepts: the places at which
	// we may end, by their chances and what each is worth.
	Worth    float64 `json:"worth"`
	EventWin float64 `json:"event_win"`
	Final    float64 `json:"final"`
	// SE is the standard error of the difference in worth to the first.
	SE     float64 `json:"se"`
	Tie    bool    `json:"tie"`     // cannot be told from the first
	BestIn float64 `json:"best_in"` // share of plausible worlds in which it is the best
	// HereNextTurn: on our turn, the chance that it is still there when we
	// choose after this; before our turn, that it is there then.
	HereNextTurn float64  `json:"here_next_turn"`
	Points       float64  `json:"points"`         // expected in the next match
	Then         *Then    `json:"then,omitempty"` // whom we would call after it; nil: no further pick
	Reason       string   `json:"reason"`
	Reasons      []Reason `json:"reasons" nullable:"false"`
}

// Then is the most likely partner of a candidate in our next round.
type Then struct {
	Team  TeamID  `json:"team"`
	Share float64 `json:"share"` // of worlds
}

// Reason is one piece of a candidate's reason.
type Reason struct {
	Kind   string  `json:"kind"`             // adds, most, points, full, stops, gone or stays
	Action string  `json:"action,omitempty"` // id; of a choice action:option
	Name   string  `json:"name,omitempty"`   // of the action, for people
	Nth    int     `json:"nth,omitempty"`    // of kinds adds and full: which robot of ours to do it
	Value  float64 `json:"value,omitempty"`  // units a match, points or a share, by kind
	Pick   int     `json:"pick,omitempty"`   // of kinds gone and stays: when we choose next
	Text   string  `json:"text"`
}

// Invitation is both futures of an invitation by the captain on the clock.
type Invitation struct {
	Captain TeamID  `json:"captain"`
	Accept  Future  `json:"accept"`
	Decline Future  `json:"decline"`
	SE      float64 `json:"se"`     // of the difference in worth
	Answer  string  `json:"answer"` // accepts, declines, or empty: cannot be told
}

// Future is what we may expect.
type Future struct {
	Worth    float64 `json:"worth"`
	EventWin float64 `json:"event_win"`
	Final    float64 `json:"final"`
}
