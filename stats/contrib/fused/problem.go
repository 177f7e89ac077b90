package fused

// Problem is what was seen, in points. Nothing in it is changed.
type Problem struct {
	Robots int
	Scouts int
	Size   int     // robots of a full alliance
	Scale  float64 // s: mean own score per robot, above 0
	Plays  []Play  // in the order in which they were played
	// Trained is what scouts counted before the event where the truth is known.
	Trained []Trained
	// Prior has what an earlier event says of each robot; nil, or an entry of
	// Var 0: nothing.
	Prior []Prior
	Level float64 // of all robots at the earlier event, points; used with Prior
	// RestSD is how far the points that are no robot's may lie from zero, per
	// alliance and match.
	RestSD float64
	// RestMatchSD is how far they may vary from match to match by what the
	// game has for it; the prior of the Rest component is at least that.
	RestMatchSD float64
}

// Prior is a belief about θ of one robot before the event, in points and points².
type Prior struct{ Mean, Var float64 }

// Trained is what a scout counted of one robot in a training, and what there was.
type Trained struct {
	Scout  int
	Points float64 // as counted
	True   float64 // above 0
}

// Play is one match: who took part, and the rows.
type Play struct {
	Present []Present
	Sides   []Side
	Totals  []Total
	Views   []View
	Marks   []Mark
	Playoff bool // of the playoffs: everybody plays 1 + λ as hard
}

// Present is a robot that took part.
type Present struct {
	Robot       int
	Exposure    float64 // w, share of the match that it could use, 0 to 1
	ExposureVar float64 // of w, where it was not watched
	// Expected is the w that a forecast would have used, and ExpectedVar its variance.
	Expected, ExpectedVar float64
}

// Side says that Play.Present[From:To] play together.
type Side struct{ From, To int }

// Total is the official own score of an alliance: its robots are
// Play.Present[From:To].
type Total struct {
	From, To int
	Own      float64 // points, fouls received left out
	Var      float64 // points²: of what was filled in (caps, fouls not published)
}

// View is the points of one robot that one scout counted.
type View struct {
	Slot   int // index into Play.Present
	Scout  int
	Points float64
	Var    float64 // points²: of cells that were filled in
	// Official: the venue's own count, with neither bias nor error beyond Var.
	Official bool
}

// Mark says that a robot changed before this play, by about SD (in units of s).
type Mark struct {
	Robot int
	SD    float64
}
