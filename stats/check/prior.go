package check

// prior says how often a mistake is made before anything was seen, and how many
// chances' worth of evidence that belief is. All are plausible, none is
// measured on a real event; after the first look at an event they are drawn to
// what it shows.
type prior struct {
	kind   Kind
	of     string  // what it is a share of
	share  float64 // expected
	weight float64 // chances
}

// The table of priors. Kinds that are facts (missing, unknown teams, records of
// robots that are not in their match) need none.
const (
	pairPrior = iota
	acrossPrior
	robotPrior
	opponentPrior
	nextMatchPrior
	periodPrior
	stuckPrior
	outlierPrior
	blankPrior
	disagreePrior
	absentPrior
	priorCount
)

var priors = [priorCount]prior{
	pairPrior:      {Swap, "pairs of records of one alliance", 0.004, 500},
	acrossPrior:    {Swap, "pairs of records of opponents", 0.0003, 3000},
	robotPrior:     {WrongRobot, "records, for a partner's row", 0.008, 250},
	opponentPrior:  {WrongRobot, "records, for an opponent's row", 0.0008, 1500},
	nextMatchPrior: {WrongRobot, "records, for a row of the match before or after", 0.001, 1500},
	periodPrior:    {Period, "records with a later namesake of an autonomous action", 0.012, 200},
	stuckPrior:     {Stuck, "records", 0.002, 500},
	outlierPrior:   {Outlier, "records", 0.004, 500},
	blankPrior:     {Outlier, "records, for all zeros", 0.001, 1000},
	disagreePrior:  {Disagree, "pairs of records of one robot and match", 0.04, 50},
	absentPrior:    {Absent, "records that call a robot absent", 0.25, 8},
}

// learn draws the priors to what was found: sum is the expected number of
// mistakes of each kind among so many chances.
func learn(sum, chances *[priorCount]float64) (out [priorCount]float64) {
	for k, p := range priors {
		out[k] = (p.share*p.weight + sum[k]) / (p.weight + chances[k])
	}
	return out
}
