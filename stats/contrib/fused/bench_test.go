package fused

import (
	"fmt"
	"testing"
)

// sizes are an event of 60 robots, 120 matches and about 690 records, and ones
// of two and four times as many of each.
func sizes(b *testing.B, run func(b *testing.B, p *Problem)) {
	for _, times := range []int{1, 2, 4} {
		w := fullWorld()
		w.robots, w.matches, w.scouts = times*w.robots, times*w.matches, times*w.scouts
		b.Run(fmt.Sprintf("%drobots%dmatches", w.robots, w.matches), func(b *testing.B) {
			p, _ := w.draw(source(1))
			b.ReportAllocs()
			run(b, p)
		})
	}
}

func BenchmarkPass(b *testing.B) {
	sizes(b, func(b *testing.B, p *Problem) {
		m, c := newModel(p), Medians()
		for b.Loop() {
			if _, err := m.pass(&c, course{now: true}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkRefit(b *testing.B) {
	sizes(b, func(b *testing.B, p *Problem) {
		for b.Loop() {
			if _, err := p.Fit(Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// A new record comes in and the noise is kept: what a screen waits for, points
// over the event included.
func BenchmarkNewRecord(b *testing.B) {
	sizes(b, func(b *testing.B, p *Problem) {
		fit, err := p.Fit(Options{})
		if err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			again, err := p.Fit(Options{Start: &fit.Settings, Hold: true})
			if err != nil {
				b.Fatal(err)
			}
			again.Over()
		}
	})
}
