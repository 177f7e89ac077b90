package statespace

import (
	"cmp"
	"slices"
)

// Batch is rows that are taken in together. Its memory is reused by Reset.
type Batch struct {
	rows   []row
	seen   []use
	shared []use
	noise  []float64
	pairs  []pair
	cov    []float64 // of noise terms, put together in an update
	// What UpdateGuarded found, by row.
	t, precision []float64
}

type row struct {
	residual, variance float64
	guarded            bool
}

// use is one coefficient of a row.
type use struct {
	row, index int
	coef       float64
}

// pair is the covariance of two noise terms.
type pair struct {
	i, j int
	cov  float64
}

// Row is a row of a batch that is being put together.
type Row struct {
	b *Batch
	k int
}

// NewBatch returns an empty batch.
func NewBatch() *Batch { return &Batch{} }

// Reset empties the batch.
func (b *Batch) Reset() {
	b.rows, b.seen, b.shared, b.noise, b.pairs = b.rows[:0], b.seen[:0], b.shared[:0], b.noise[:0], b.pairs[:0]
	b.t, b.precision = b.t[:0], b.precision[:0]
}

// Len is the number of rows.
func (b *Batch) Len() int { return len(b.rows) }

// Noise adds a noise term of the given variance that rows may share, and
// returns its index.
func (b *Batch) Noise(variance float64) int {
	b.noise = append(b.noise, variance)
	return len(b.noise) - 1
}

// Correlate gives two noise terms a covariance.
func (b *Batch) Correlate(i, j int, cov float64) { b.pairs = append(b.pairs, pair{i, j, cov}) }

// noiseCov is the covariance of all noise terms, n×n.
func (b *Batch) noiseCov() []float64 {
	n := len(b.noise)
	if cap(b.cov) < n*n {
		b.cov = make([]float64, n*n)
	}
	b.cov = b.cov[:n*n]
	clear(b.cov)
	for i, v := range b.noise {
		b.cov[i*n+i] = v
	}
	for _, p := range b.pairs {
		b.cov[p.i*n+p.j] += p.cov
		b.cov[p.j*n+p.i] += p.cov
	}
	return b.cov
}

// Add begins a row: what was observed minus what the filter's mean predicts,
// and the variance of the row's own noise. A model that is not linear is
// linearised by the caller around the filter's mean.
func (b *Batch) Add(residual, variance float64) Row {
	b.rows = append(b.rows, row{residual: residual, variance: variance})
	return Row{b, len(b.rows) - 1}
}

// State says that the row contains coef times number i. An i is given once a row.
func (r Row) State(i int, coef float64) Row {
	r.b.seen = append(r.b.seen, use{r.k, i, coef})
	return r
}

// Shares says that the row contains coef times shared noise i.
func (r Row) Shares(i int, coef float64) Row {
	r.b.shared = append(r.b.shared, use{r.k, i, coef})
	return r
}

// Guard makes the row one that UpdateGuarded may give less weight.
func (r Row) Guard() Row {
	r.b.rows[r.k].guarded = true
	return r
}

// T returns, after UpdateGuarded, the standardised residual of each row given
// all the others, in the order of Add; valid until Reset.
func (b *Batch) T() []float64 { return b.t }

// Check returns, after UpdateGuarded, what T has for row k, the row's own
// variance as it was given, and its precision given all other rows,
// (S⁻¹)ₖₖ: 1/precision is the variance of its leave-one-out residual.
func (b *Batch) Check(k int) (t, variance, precision float64) {
	return b.t[k], b.rows[k].variance, b.precision[k]
}

// Residual returns the residual of row k as it was given.
func (b *Batch) Residual(k int) float64 { return b.rows[k].residual }

func (b *Batch) sortSeen() {
	slices.SortFunc(b.seen, func(x, y use) int {
		return cmp.Or(cmp.Compare(x.index, y.index), cmp.Compare(x.row, y.row))
	})
}
