package store_test

import (
	"fmt"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// Under -bench the private server syncs every commit to disk, as in real use.

// BenchmarkAppend stores observations of new records, from several devices at
// once on one event; a batch is what one device sends in one request.
func BenchmarkAppend(b *testing.B) {
	for _, batch := range []int{1, 50} {
		b.Run(fmt.Sprintf("Batch%d", batch), func(b *testing.B) {
			db := storetest.New(b)
			ev, lead := storetest.Event(b, db, nil)
			var match atomic.Int64
			b.SetParallelism(4)
			b.ResetTimer()
			b.RunParallel(func(pb *testing.PB) {
				for pb.Next() {
					items := make([]store.Incoming, batch)
					for i := range items {
						o := storetest.Observation("Q1", "40101", "s03", 3)
						n := int(match.Add(1))
						o.Match.Number, o.Play = 1+n%9999, 1+n/9999
						items[i] = storetest.Observed(ev.ID, lead, o)
					}
					if _, _, err := db.Append(b.Context(), ev.ID, items); err != nil {
						b.Error(err)
						return
					}
				}
			})
			b.ReportMetric(float64(b.N*batch)/b.Elapsed().Seconds(), "revisions/s")
		})
	}
}

// season fills an event as a whole weekend does: 60 teams, 120 matches, one
// scout for each robot.
func season(b *testing.B, db *store.DB) (store.Event, store.Member) {
	b.Helper()
	ev, lead := storetest.Event(b, db, nil)
	teams := storetest.Teams(b, db, ev.ID, 60)
	var items []store.Incoming
	for _, m := range storetest.Schedule(b, db, ev.ID, teams, 120) {
		for _, side := range []record.Colour{record.Red, record.Blue} {
			for i, team := range m.Side(side).Teams {
				o := storetest.Observation(m.ID.String(), string(team), fmt.Sprintf("s%d%s", i, side), 3)
				items = append(items, storetest.Observed(ev.ID, lead, o))
			}
		}
	}
	storetest.Append(b, db, ev.ID, items...)
	return ev, lead
}

// BenchmarkSince reads one page of the feed.
func BenchmarkSince(b *testing.B) {
	db := storetest.New(b)
	ev, _ := season(b, db)
	for name, viewer := range map[string]store.Viewer{
		"Lead": {Role: record.RoleLead}, "ScoutWithNothing": {Role: record.RoleScout, MemberID: uuid.New()},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, _, _, err := db.Since(b.Context(), ev.ID, 0, 500, viewer); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("NothingNew", func(b *testing.B) {
		last, err := db.ChangeNo(b.Context(), ev.ID)
		if err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			if _, _, _, err := db.Since(b.Context(), ev.ID, last, 500, store.Viewer{Role: record.RoleLead}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// BenchmarkLoad reads all that an analysis needs.
func BenchmarkLoad(b *testing.B) {
	db := storetest.New(b)
	ev, _ := season(b, db)
	for b.Loop() {
		if _, _, err := db.Load(b.Context(), ev.ID); err != nil {
			b.Fatal(err)
		}
	}
}
