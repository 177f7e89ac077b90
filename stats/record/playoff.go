package record

// Bracket is what a playoff is expected to bring.
type Bracket struct {
	Format    string            `json:"format"`
	Alliances []BracketAlliance `json:"alliances" nullable:"false"` // in order of seed
	Next      []BracketMatch    `json:"next" nullable:"false"`      // that can be played now
	Runs      int               `json:"runs"`                       // playoffs drawn
}

// BracketAlliance is one alliance's chances.
type BracketAlliance struct {
	Alliance int                `json:"alliance"` // seed, from 1
	Teams    []TeamID           `json:"teams" nullable:"false"`
	Win      float64            `json:"win"`    // the event
	Final    float64            `json:"final"`  // to play in it
	SE       float64            `json:"se"`     // standard error of win
	Rounds   map[string]float64 `json:"rounds"` // to play in a round, by its name
	Places   map[string]float64 `json:"places"` // to end at "1", "2", "5-6", …
}

// BracketMatch is a game that is due.
type BracketMatch struct {
	Match  MatchID `json:"match"`
	Round  string  `json:"round"`
	Red    int     `json:"red"`  // alliance
	Blue   int     `json:"blue"` // alliance
	Chance Sides   `json:"chance"`
}

// Sides are two chances that come to 1.
type Sides struct {
	Red  float64 `json:"red"`
	Blue float64 `json:"blue"`
}

// SelectedAlliance is an alliance as alliances.csv has it.
type SelectedAlliance struct {
	Alliance int      `json:"alliance"` // seed, from 1
	Captain  TeamID   `json:"captain"`
	Picks    []TeamID `json:"picks" nullable:"false"`
}

// Teams are the captain and the picks.
func (a *SelectedAlliance) Teams() []TeamID { return append([]TeamID{a.Captain}, a.Picks...) }
