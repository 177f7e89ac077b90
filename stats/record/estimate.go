package record

// Estimate is what is known about the robots of an event after some matches.
type Estimate struct {
	Teams []TeamEstimate `json:"teams" nullable:"false"` // in order of team number
	Fit   Fit            `json:"fit"`
}

// TeamEstimate is one robot's contribution in points per match to its own
// alliance's score, points received by fouls excluded.
type TeamEstimate struct {
	Team         TeamID                    `json:"team"`
	Matches      int                       `json:"matches"` // played, with an official result
	Watched      int                       `json:"watched"` // matches with at least one scout's record
	Points       float64                   `json:"points"`  // over the event
	SD           float64                   `json:"sd"`
	Now          float64                   `json:"now"` // what to expect in the next match
	NowSD        float64                   `json:"now_sd"`
	Working      float64                   `json:"working"` // when nothing stops it
	Stops        float64                   `json:"stops"`   // share of its matches with 20 s or more stopped, or absent
	Actions      map[string]ActionEstimate `json:"actions"` // by action id, units per match; a choice by "action:option", a share
	LeastSquares LeastSquares              `json:"least_squares"`
}

// ActionEstimate is the mean of an action in units per match (a flag and an
// option: share of matches) with its standard deviation.
type ActionEstimate struct {
	Mean     float64   `json:"mean"`
	SD       float64   `json:"sd"`
	Accuracy *Accuracy `json:"accuracy,omitempty"` // nil: no misses recorded
}

// Accuracy is the share of tries that counted.
type Accuracy struct {
	Share float64 `json:"share"`
	Low   float64 `json:"low"` // 80 % interval
	High  float64 `json:"high"`
	Tries int     `json:"tries"`
}

// LeastSquares has the plain figures; nil: the schedule does not determine it.
type LeastSquares struct {
	Offence *float64 `json:"offence"` // OPR: own score, points by fouls included
	Defence *float64 `json:"defence"` // DPR: score allowed; lower is better
	Margin  *float64 `json:"margin"`  // CCWM: OPR − DPR
}

// Fit tells how the estimate came about.
type Fit struct {
	Method        string             `json:"method"`
	Matches       int                `json:"matches"` // with an official result
	Rows          int                `json:"rows"`    // alliance totals and scouts' rows used
	Records       int                `json:"records"` // scouts' rows used
	LogLikelihood float64            `json:"log_likelihood"`
	Components    map[string]float64 `json:"components"` // standard deviations by name, in points; "partners" is a correlation
	// Priors tell of each of Components what was believed before any data.
	Priors map[string]ComponentPrior `json:"priors,omitempty"`
	// Outliers are scouts' rows that contradict all others and lost weight.
	Outliers int `json:"outliers"`
	// Explained is the share of official points that the game file explains by
	// the records, of alliances all of whose robots were watched; nil: none was.
	Explained *float64 `json:"explained,omitempty"`
	Rest      float64  `json:"rest"`              // points per alliance and match that are no robot's
	Capped    float64  `json:"capped"`            // points that caps took off, over all totals
	Scouts    []Scout  `json:"scouts,omitempty"`  // in order of name
	Widened   float64  `json:"widened,omitempty"` // factor on forecasts' variance by how earlier ones fared
	// Playoffs is how much more robots do there; nil: none was played.
	Playoffs *PlayoffShift `json:"playoffs,omitempty"`
}

// PlayoffShift is how much more all robots do in playoffs than before, as a share.
type PlayoffShift struct {
	Mean    float64 `json:"mean"` // −0.06: 6 % less
	SD      float64 `json:"sd"`   // of what is not known of it
	Matches int     `json:"matches"`
}

// ComponentPrior is the prior of a variance component and how much the data say
// about it: both standard deviations are of its logarithm (of "partners" itself).
type ComponentPrior struct {
	Median  float64 `json:"median"` // in the unit of the component
	SD      float64 `json:"sd"`
	SDAfter float64 `json:"sd_after"`
	Reason  string  `json:"reason"`
}

// Scout is how one scout counts, compared with all that is known.
type Scout struct {
	Scout   string  `json:"scout"`
	Records int     `json:"records"` // used
	Bias    float64 `json:"bias"`    // share; below zero: counts too little
	BiasSD  float64 `json:"bias_sd"`
	Spread  float64 `json:"spread"` // of the scout's errors, 1 is usual
}

// Forecast is what to expect of a match.
type Forecast struct {
	Match  MatchID     `json:"match"`
	Red    ScoreSpread `json:"red"`
	Blue   ScoreSpread `json:"blue"`
	Chance Chance      `json:"chance"`
	// RankingPoints are the chances of each ranking point that can be told, by
	// colour and by its id; empty where nothing was simulated.
	RankingPoints map[Colour]map[string]float64 `json:"ranking_points,omitempty"`
}

// ScoreSpread is the distribution of one alliance's score, points by fouls included.
type ScoreSpread struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
	P10  float64 `json:"p10"` // rounded down to whole points
	P90  float64 `json:"p90"` // rounded up to whole points
}

// Chance sums to one.
type Chance struct {
	Red  float64 `json:"red"`
	Blue float64 `json:"blue"`
	Tie  float64 `json:"tie"`
}
