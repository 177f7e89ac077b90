package record

// Bracket is what a playoff is expected to bring.
type Bracket struct {
	Format    string            `json:"format"`
	Alliances []BracketAlliance `json:"alliances" nullable:"false"` // in order of seed
	Next      []BracketMatch    `json:"next" nullable:"false"`      // that can be played now
	Series    []BracketSeries   `json:"series" nullable:"false"`    // all of the format, in the order in which they are played
	Runs      int               `json:"runs"`                       // playoffs drawn
}

// BracketSeries is one meeting of two alliances: a game, or as many as it takes
// until one of them has won Wins.
type BracketSeries struct {
	Series int         `json:"series"` // from 1
	Round  string      `json:"round"`
	Final  bool        `json:"final"`
	Wins   int         `json:"wins"`  // games that it takes
	Match  MatchID     `json:"match"` // its next game; once it is over the last one
	Red    BracketSide `json:"red"`
	Blue   BracketSide `json:"blue"`
	Winner int         `json:"winner,omitempty"` // alliance; 0: open
	// Open: both alliances are known and it is not over.
	Open bool `json:"open"`
	// WinnerTo and LoserTo are the series that it leads to; 0: none.
	WinnerTo int `json:"winner_to,omitempty"`
	LoserTo  int `json:"loser_to,omitempty"`
	// Out is the place at which the loser ends, such as "5-6"; empty: it goes on.
	Out   string        `json:"out,omitempty"`
	Games []BracketGame `json:"games" nullable:"false"` // with a result, in order
	// Reach is the chance of each alliance to play in it, in order of seed.
	Reach []float64 `json:"reach" nullable:"false"`
}

// BracketSide is where an alliance of a series comes from, and who it is.
type BracketSide struct {
	From     string `json:"from"`               // A1: seed 1; W7, L7: winner, loser of series 7; T1: first of the table
	Alliance int    `json:"alliance,omitempty"` // 0: not known yet, or a bye
	Bye      bool   `json:"bye,omitempty"`
	Won      int    `json:"won"` // games
}

// How a game of a playoff was decided: by score, by one component of the tie
// order, or not at all, so that it is played again.
const (
	ByScore = "score"
	Replay  = "replay"
)

// BracketGame is a game with a result.
type BracketGame struct {
	Match  MatchID `json:"match"`
	Play   int     `json:"play"`
	Winner int     `json:"winner,omitempty"` // alliance; 0: nobody
	By     string  `json:"by"`               // score, replay, or the component of the tie order that decided
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

// PlayoffBody is the JSON body of a record of kind "playoff": what is worth
// keeping of a playoff match beside its result.
type PlayoffBody struct {
	Match MatchID     `json:"match"`
	Red   PlayoffSide `json:"red"`
	Blue  PlayoffSide `json:"blue"`
	Note  string      `json:"note,omitempty"`
}

// PlayoffSide is what happened to one alliance around a match. Cards stand in
// the result.
type PlayoffSide struct {
	TimeOut bool     `json:"time_out,omitempty"` // it asked for one before the match
	Backup  TeamID   `json:"backup,omitempty"`   // the backup robot that was used
	SatOut  []SatOut `json:"sat_out,omitempty"`
}

// SatOut is a robot of the alliance that did not play, and why.
type SatOut struct {
	Team TeamID `json:"team"`
	Why  string `json:"why,omitempty"`
}
