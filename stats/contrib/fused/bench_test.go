package fused

import "testing"

// 60 robots, 120 matches, about 690 records.
func BenchmarkPass(b *testing.B) {
	p, _ := fullWorld().draw(source(1))
	m, c := newModel(p), Medians()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.pass(&c, course{now: true}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRefit(b *testing.B) {
	p, _ := fullWorld().draw(source(1))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := p.Fit(Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNewRecord(b *testing.B) {
	p, _ := fullWorld().draw(source(1))
	fit, err := p.Fit(Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := p.Fit(Options{Start: &fit.Settings, Hold: true}); err != nil {
			b.Fatal(err)
		}
	}
}
