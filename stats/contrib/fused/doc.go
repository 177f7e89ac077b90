// Package fused is the model that puts official alliance totals and scouts'
// records together, on plain numbers: robots and scouts are indices, a match
// is a handful of rows. Who turns an event into such rows is package contrib.
//
// In units of s, the mean own score per robot, the state is
//
//	θᵢ    what robot i adds to its alliance's score when nothing stops it,
//	      N(1 + shared, hᵢ·τ²), hᵢ of a Student t law where there are records,
//	      or what an earlier event left
//	b_k   relative bias of scout k, N(−0.02, β²)
//	δ     what all robots gain together per match of their own, N(0, 0.008²)
//	ρ     what an alliance scores beyond its robots, the rest
//	λ     how much more all robots do in playoffs, N(0, 0.10²): there θ is (1 + λ)·θ
//
// and a match in which robot i has the share w of its time
//
//	pᵢ = w·θᵢ + eᵢ            Var e = (φ₀² + φ₁²·base)·w + Var(w)·θ²; partners' e have correlation κ
//	y  = Σ pᵢ + ρ + noise     official own score of an alliance
//	z  = (1 + b_k)·pᵢ + ε     Var ε = c_k·(r₀² + (r₁·max(p̂, 0.3))²)
//
// All rows of a match are one update (package statespace), so two scouts of one
// robot share its match noise, and the official total fills in a robot that
// nobody watched. Var θᵢ gains q² before each match of robot i. The variance
// components are maximum a posteriori of the filter's likelihood under the
// priors of Components; each scout's spread c_k and each
// robot's tail hᵢ are fitted by EM steps.
//
// The package reads no clock, file or random source. It imports statespace and
// gonum; contrib imports it.
package fused
