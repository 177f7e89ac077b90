// Package judge makes a scale of what scouts said about all robots of a match:
// who was best at something, and who worst.
//
// The model: every robot has a worth u. The best of a set T is robot b with
// chance exp(u_b) / Σ_T exp(u_i), and then the worst of the others is w with
// chance exp(−u_w) / Σ_{T without b} exp(−u_i). For two robots that is the
// model of Bradley and Terry (Rank analysis of incomplete block designs,
// Biometrika 39, 1952); best and worst of a set one after the other are a form
// of best-worst scaling (Marley and Louviere, Some probabilistic models of best,
// worst, and best–worst choices, Journal of Mathematical Psychology 49, 2005).
// "No difference" counts as an equal share of every answer that could have been
// given, as a tie between two counts half for each.
//
// Worths have the prior N(0, 1), one in log odds: without it a robot that was
// always best would be infinitely good. So the scale is finite with a single
// judgement, and its standard errors, from the curvature at the maximum, are
// those of the prior where nothing was said.
//
// It knows no clock and no shared randomness; the draws for ranks are passed
// in. Package api/engine imports it, and cmd.
package judge
