// Package statespace is a Gaussian filter for a state of up to a few hundred
// numbers that are seen a handful of linear combinations at a time: the
// arithmetic below the fused estimate, with no notion of robots or matches.
//
// A batch of rows is one observation of the state x ~ N(m, P):
//
//	y = H·x + E·e + ε,   e ~ N(0, N),   ε ~ N(0, diag Var),
//
// with noise e that several rows of the batch share. With S = H·P·Hᵀ +
// E·N·Eᵀ + diag(Var) = L·Lᵀ the update is
//
//	G = L⁻¹·H·P,   m += Gᵀ·L⁻¹·(y − H·m),   P −= Gᵀ·G,
//
// a symmetric update of rank len(rows) (Kalman 1960, doi:10.1115/1.3662552; in
// this low-rank form Anderson and Moore 1979, chapter 6). Only the upper
// triangle of P is stored, so that it cannot lose its symmetry. The log
// likelihood of a batch given all before it is the usual one-step prediction
// error form (Schweppe 1965, doi:10.1109/TIT.1965.1053737).
//
// It imports gonum and nothing of the project.
//
//	f := statespace.New(2)
//	f.SetVar(0, 4); f.SetVar(1, 4)
//	b := statespace.NewBatch()
//	b.Add(10-f.Mean(0)-f.Mean(1), 0.5).State(0, 1).State(1, 1) // the sum is 10, sd √0.5
//	logLikelihood, err := f.Update(b)
package statespace
