package statespace

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// dense is the textbook filter with full matrices and the covariance update in
// Joseph's form, (I−KH)·P·(I−KH)ᵀ + K·R·Kᵀ (Bucy and Joseph 1968), which stays
// positive definite whatever the gain's rounding.
type dense struct {
	x *mat.VecDense
	p *mat.Dense
}

func (d *dense) update(h, r *mat.Dense, resid []float64) float64 {
	m, n := h.Dims()
	var ph, s, inv, k mat.Dense
	ph.Mul(d.p, h.T())
	s.Mul(h, &ph)
	s.Add(&s, r)
	if err := inv.Inverse(&s); err != nil {
		panic(err)
	}
	k.Mul(&ph, &inv)
	v := mat.NewVecDense(m, resid)
	var step, sv mat.VecDense
	step.MulVec(&k, v)
	d.x.AddVec(d.x, &step)
	ikh := mat.NewDense(n, n, nil)
	ikh.Mul(&k, h)
	ikh.Scale(-1, ikh)
	for i := range n {
		ikh.Set(i, i, ikh.At(i, i)+1)
	}
	var a, b, kr mat.Dense
	a.Mul(ikh, d.p)
	b.Mul(&a, ikh.T())
	kr.Mul(&k, r)
	a.Mul(&kr, k.T())
	d.p.Add(&b, &a)
	sv.MulVec(&inv, v)
	logDet, _ := mat.LogDet(&s)
	return -0.5 * (float64(m)*math.Log(2*math.Pi) + logDet + mat.Dot(v, &sv))
}

// The low-rank update against the dense one over a long run of random batches
// with shared noise: means, covariances, log likelihoods, and a covariance
// that stays positive definite.
func TestUpdateMatchesJosephForm(t *testing.T) {
	t.Parallel()
	const n, batches = 20, 300
	rng := rand.New(rand.NewPCG(3, 4))
	f := New(n)
	d := dense{mat.NewVecDense(n, nil), mat.NewDense(n, n, nil)}
	f.AddShared(0, n, 0.5)
	for i := range n {
		f.AddVar(i, 1+float64(i))
		for j := range n {
			d.p.Set(i, j, f.Cov(i, j))
		}
	}
	b := NewBatch()
	for step := range batches {
		m := 1 + rng.IntN(9)
		b.Reset()
		noises := []float64{0.3 * rng.Float64(), rng.Float64()}
		for _, v := range noises {
			b.Noise(v)
		}
		h, r := mat.NewDense(m, n, nil), mat.NewDense(m, m, nil)
		e := mat.NewDense(m, len(noises), nil)
		resid := make([]float64, m)
		for k := range m {
			y := 3 * rng.NormFloat64()
			variance := 1e-6 + rng.Float64()
			resid[k] = y
			seen := rng.Perm(n)[:1+rng.IntN(4)]
			for _, i := range seen {
				h.Set(k, i, rng.NormFloat64())
				resid[k] -= h.At(k, i) * f.Mean(i)
			}
			row := b.Add(resid[k], variance)
			for _, i := range seen {
				row.State(i, h.At(k, i))
			}
			r.Set(k, k, variance)
			j := rng.IntN(len(noises))
			e.Set(k, j, 1+rng.Float64())
			row.Shares(j, e.At(k, j))
		}
		for a := range m {
			for c := range m {
				for j, v := range noises {
					r.Set(a, c, r.At(a, c)+e.At(a, j)*e.At(c, j)*v)
				}
			}
		}
		got, err := f.Update(b)
		if err != nil {
			t.Fatal(err)
		}
		if want := d.update(h, r, resid); math.Abs(got-want) > 1e-8*(1+math.Abs(want)) {
			t.Fatalf("batch %d: log likelihood %v, want %v", step, got, want)
		}
		i := rng.IntN(n)
		f.AddVar(i, 0.1)
		d.p.Set(i, i, d.p.At(i, i)+0.1)
	}
	sym := mat.NewSymDense(n, nil)
	for i := range n {
		if math.Abs(f.Mean(i)-d.x.AtVec(i)) > 1e-9 {
			t.Errorf("mean %d: %v, want %v", i, f.Mean(i), d.x.AtVec(i))
		}
		for j := range n {
			if math.Abs(f.Cov(i, j)-d.p.At(i, j)) > 1e-9 {
				t.Errorf("covariance %d %d: %v, want %v", i, j, f.Cov(i, j), d.p.At(i, j))
			}
			sym.SetSym(min(i, j), max(i, j), f.Cov(i, j))
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(sym, false) || eig.Values(nil)[0] <= 0 {
		t.Errorf("covariance is not positive definite: smallest eigenvalues %v", eig.Values(nil)[:3])
	}
}

// One number, seen by itself: the closed form of a normal mean with a normal prior.
func TestUpdateClosedForm(t *testing.T) {
	t.Parallel()
	f := New(1)
	f.SetMean(0, 10)
	f.SetVar(0, 4)
	b := NewBatch()
	b.Add(16-10, 2).State(0, 1)
	ll, err := f.Update(b)
	if err != nil {
		t.Fatal(err)
	}
	// Precision 1/4 + 1/2, mean (10/4 + 16/2)/(3/4) = 14; the row is N(10, 6).
	if math.Abs(f.Mean(0)-14) > 1e-14 || math.Abs(f.Cov(0, 0)-4.0/3) > 1e-15 {
		t.Errorf("mean %v variance %v, want 14 and 4/3", f.Mean(0), f.Cov(0, 0))
	}
	if want := -0.5 * (math.Log(2*math.Pi*6) + 36.0/6); math.Abs(ll-want) > 1e-14 {
		t.Errorf("log likelihood %v, want %v", ll, want)
	}
}

// A total and one of its two parts, seen with the part's noise in both: the
// total then tells about the other part alone.
func TestUpdateSharedNoiseCancels(t *testing.T) {
	t.Parallel()
	const tiny = 1e-9
	f := New(2)
	f.SetVar(0, 1)
	f.SetVar(1, 1)
	b := NewBatch()
	e := b.Noise(25) // the match noise of part 0, large
	b.Add(7, tiny).State(0, 1).State(1, 1).Shares(e, 1)
	b.Add(4, tiny).State(0, 1).Shares(e, 1)
	if _, err := f.Update(b); err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Mean(1)-3) > 1e-6 || f.Cov(1, 1) > 1e-6 {
		t.Errorf("the other part is %v, variance %v; want 3, certain", f.Mean(1), f.Cov(1, 1))
	}
	if want := 4.0 / 26; math.Abs(f.Mean(0)-want) > 1e-6 {
		t.Errorf("the seen part is %v, want %v", f.Mean(0), want)
	}
}

// Two noise terms that cancel: their sum shows the state without noise, each
// alone does not.
func TestUpdateCorrelatedNoise(t *testing.T) {
	t.Parallel()
	const tiny = 1e-9
	f := New(1)
	f.SetVar(0, 1)
	b := NewBatch()
	i, j := b.Noise(4), b.Noise(4)
	b.Correlate(i, j, -4)
	b.Add(3, tiny).State(0, 1).Shares(i, 1).Shares(j, 1)
	if _, err := f.Update(b); err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Mean(0)-3) > 1e-6 || f.Cov(0, 0) > 1e-6 {
		t.Errorf("mean %v, variance %v; want 3, certain", f.Mean(0), f.Cov(0, 0))
	}
	b.Reset()
	k, l := b.Noise(1), b.Noise(1)
	b.Correlate(k, l, 0.5)
	f.Reset()
	f.SetVar(0, 1)
	b.Add(2, tiny).State(0, 1).Shares(k, 1).Shares(l, 1)
	if _, err := f.Update(b); err != nil {
		t.Fatal(err)
	}
	if want := 2.0 / (1 + 3); math.Abs(f.Mean(0)-want) > 1e-6 { // Var = 1 + 1 + 2·½
		t.Errorf("mean %v, want %v", f.Mean(0), want)
	}
}

func TestUpdateGuardedTakesWeightFromOutliers(t *testing.T) {
	t.Parallel()
	run := func(value float64, guard bool) (*Filter, []float64) {
		f := New(1)
		f.SetVar(0, 1)
		b := NewBatch()
		b.Add(0.1, 0.01).State(0, 1)
		row := b.Add(value, 0.01).State(0, 1)
		if guard {
			row.Guard()
		}
		if _, err := f.UpdateGuarded(b, 4); err != nil {
			t.Fatal(err)
		}
		return f, b.T()
	}
	plain, _ := run(3, false)
	guarded, ts := run(3, true)
	if math.Abs(plain.Mean(0)-1.55) > 0.02 {
		t.Errorf("without guard the two rows meet half way: %v", plain.Mean(0))
	}
	if math.Abs(guarded.Mean(0)-0.1) > 0.02 {
		t.Errorf("guarded: %v, want about 0.1", guarded.Mean(0))
	}
	// Leave-one-out by hand: given the other row the mean is 0.1/1.01 and the
	// variance 0.01/1.01 + 0.01.
	if want := (3 - 0.1/1.01) / math.Sqrt(0.01/1.01+0.01); math.Abs(ts[1]-want) > 1e-9 {
		t.Errorf("t = %v, want %v", ts[1], want)
	}
	near, _ := run(0.3, true)
	same, _ := run(0.3, false)
	if near.Mean(0) != same.Mean(0) {
		t.Errorf("a row within the limit lost weight: %v, %v", near.Mean(0), same.Mean(0))
	}
}

func TestUpdateRefusesRowsWithoutNoise(t *testing.T) {
	t.Parallel()
	f := New(1)
	f.SetVar(0, 1)
	b := NewBatch()
	b.Add(1, 0).State(0, 1)
	b.Add(2, 0).State(0, 1)
	if _, err := f.Update(b); !errors.Is(err, ErrNotPositive) {
		t.Errorf("error %v, want ErrNotPositive", err)
	}
	if f.Mean(0) != 0 || f.Cov(0, 0) != 1 {
		t.Error("the belief changed")
	}
	if ll, err := f.Update(NewBatch()); ll != 0 || err != nil {
		t.Errorf("an empty batch: %v, %v", ll, err)
	}
}

// The order of rows of a batch changes nothing but rounding.
func TestUpdateRowOrder(t *testing.T) {
	t.Parallel()
	run := func(order []int) *Filter {
		f := New(3)
		f.AddShared(0, 3, 0.2)
		for i := range 3 {
			f.AddVar(i, 1)
		}
		b := NewBatch()
		e := b.Noise(0.4)
		for _, k := range order {
			b.Add(float64(k), 0.1+float64(k)).State(k, 1).State((k+1)%3, 0.5).Shares(e, 1)
		}
		if _, err := f.Update(b); err != nil {
			t.Fatal(err)
		}
		return f
	}
	a, c := run([]int{0, 1, 2}), run([]int{2, 0, 1})
	for i := range 3 {
		if math.Abs(a.Mean(i)-c.Mean(i)) > 1e-14 {
			t.Errorf("mean %d: %v and %v", i, a.Mean(i), c.Mean(i))
		}
	}
}

// Annual flow of the Nile at Aswan, 1871 to 1970, in 10⁸ m³ (Cobb 1978,
// doi:10.1093/biomet/65.2.243), as it is in R's dataset Nile; copied from memory.
var nile = []float64{
	1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140,
	1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969,
	831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759,
	781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890,
	744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
}

// The worked example of Durbin and Koopman (2001, Time Series Analysis by State
// Space Methods, 2.2.2 and 2.10.3; figures from memory): a local level model of
// the Nile is most likely at variances 15099 (observation) and 1469.1 (level),
// with a filtered variance of the level that settles at 4032.16.
func TestFilterNile(t *testing.T) {
	t.Parallel()
	run := func(observation, level float64) (ll, variance float64) {
		f := New(1)
		f.SetMean(0, nile[0]) // a diffuse start is the first value, known with its noise
		f.SetVar(0, observation)
		b := NewBatch()
		for _, y := range nile[1:] {
			f.AddVar(0, level)
			b.Reset()
			b.Add(y-f.Mean(0), observation).State(0, 1)
			v, err := f.Update(b)
			if err != nil {
				t.Fatal(err)
			}
			ll += v
		}
		return ll, f.Cov(0, 0)
	}
	ll, variance := run(15099, 1469.1)
	if math.Abs(variance-4032.16) > 0.05 {
		t.Errorf("filtered variance %v, want 4032.16", variance)
	}
	if math.Abs(ll-(-632.54)) > 0.01 {
		t.Errorf("log likelihood %v, want -632.54", ll)
	}
	// Climb from far away: the top is where the book has it.
	o, l := math.Log(8000), math.Log(8000)
	for step := 1.0; step > 1e-6; {
		best, bo, bl := math.Inf(-1), o, l
		for _, d := range [][2]float64{{0, 0}, {step, 0}, {-step, 0}, {0, step}, {0, -step}} {
			if v, _ := run(math.Exp(o+d[0]), math.Exp(l+d[1])); v > best {
				best, bo, bl = v, o+d[0], l+d[1]
			}
		}
		if bo == o && bl == l {
			step /= 2
		}
		o, l = bo, bl
	}
	if math.Abs(math.Exp(o)-15099) > 2 || math.Abs(math.Exp(l)-1469.1) > 0.5 {
		t.Errorf("most likely at %.1f and %.1f, want 15099 and 1469.1", math.Exp(o), math.Exp(l))
	}
}

// BenchmarkUpdate is one match of an event of 60 robots and 12 scouts.
func BenchmarkUpdate(b *testing.B) {
	f := New(74)
	f.AddShared(0, 60, 0.25)
	for i := range 74 {
		f.AddVar(i, 0.3)
	}
	batch := NewBatch()
	b.ReportAllocs()
	for b.Loop() {
		f.AddVar(b.N%60, 1e-4)
		batch.Reset()
		for side := range 2 {
			total := batch.Add(0.1, 0.01)
			for k := range 3 {
				i := side*30 + k
				e := batch.Noise(0.2)
				total.State(i, 1).Shares(e, 1)
				batch.Add(0.1, 0.05).State(i, 1).State(60+side*3+k, 1).Shares(e, 1).Guard()
			}
		}
		if _, err := f.UpdateGuarded(batch, 4); err != nil {
			b.Fatal(err)
		}
	}
}
