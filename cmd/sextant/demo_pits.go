package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"math/rand/v2"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
)

// visit leaves a pit report of every third robot, unless there are some: drawn
// pictures, claims that are mostly above what the robot does, invented answers.
func (d *demoEvent) visit(ctx context.Context) error {
	teams := d.world.Teams()
	first := record.PitID(d.id, teams[0].ID, demoScouts[0])
	if _, err := d.db.Record(ctx, d.id, first); !errors.Is(err, store.ErrNotFound) {
		return err
	}
	does := map[record.TeamID]map[string]float64{}
	for _, t := range d.world.Truth(2).Teams {
		does[t.Team] = t.Actions
	}
	var items []store.Incoming
	for i := 0; i < len(teams); i += 3 {
		rng := rand.New(rand.NewPCG(0x917, uint64(i)))
		picture, err := drawRobot(rng)
		if err != nil {
			return err
		}
		digest := sha256.Sum256(picture)
		if err := d.db.PutBlob(ctx, d.id, digest, store.Blob{Media: "image/png", Bytes: picture}); err != nil {
			return err
		}
		scout := demoScouts[i/3%len(demoScouts)]
		body, err := json.Marshal(record.PitBody{
			Team: teams[i].ID, Scout: scout, Answers: d.told(rng, does[teams[i].ID]),
			Photos: []string{hex.EncodeToString(digest[:])}, Again: i%15 == 6,
			Note: []string{"", "", "They are rebuilding the intake", "Ask again after lunch"}[rng.IntN(4)],
		})
		if err != nil {
			return err
		}
		draft := store.Draft{RecordID: record.PitID(d.id, teams[i].ID, scout), Kind: record.KindPit, Body: body}
		more, _, err := d.db.Revise(ctx, d.id, []store.Draft{draft}, d.scouts[scout])
		if err != nil {
			return err
		}
		items = append(items, more...)
	}
	return d.append(ctx, items)
}

// told is what a team answers, given what its robot does a match.
func (d *demoEvent) told(rng *rand.Rand, does map[string]float64) map[string]game.Answer {
	out := map[string]game.Answer{}
	texts := []string{"six wheels", "swerve", "tracks", "four wheels"}
	for _, q := range d.world.Event(0).Game.Questions {
		if q.When != "pit" {
			continue
		}
		switch q.Kind {
		case "number":
			n := float64(rng.IntN(20))
			if q.Role == game.RoleClaim {
				n = math.Round(does[q.Action]*(1.1+0.6*rng.Float64()) + 0.5)
			}
			if q.Min != nil {
				n = max(n, *q.Min)
			}
			if q.Max != nil {
				n = min(n, *q.Max)
			}
			out[q.ID] = game.Answer{Number: &n}
		case "text":
			out[q.ID] = game.Answer{Text: &texts[rng.IntN(len(texts))]}
		case "choice":
			out[q.ID] = game.Answer{Text: &q.Options[rng.IntN(len(q.Options))]}
		case "flag":
			yes := rng.IntN(2) == 0
			out[q.ID] = game.Answer{Flag: &yes}
		}
	}
	return out
}

// drawRobot draws an invented robot: a frame, wheels and an arm, of chance.
func drawRobot(rng *rand.Rand) ([]byte, error) {
	const w, h = 320, 240
	m := image.NewPaletted(image.Rect(0, 0, w, h), color.Palette{
		color.RGBA{232, 228, 214, 255}, color.RGBA{40, 52, 80, 255}, color.RGBA{120, 128, 146, 255},
		[]color.RGBA{{176, 122, 20, 255}, {60, 120, 90, 255}, {120, 70, 130, 255}}[rng.IntN(3)], color.RGBA{200, 196, 184, 255},
	})
	box := func(x, y, x2, y2 int, c uint8) {
		draw.Draw(m, image.Rect(x, y, x2, y2), image.NewUniform(m.Palette[c]), image.Point{}, draw.Src)
	}
	disc := func(cx, cy, r int, c uint8) {
		for y := -r; y <= r; y++ {
			for x := -r; x <= r; x++ {
				if x*x+y*y <= r*r {
					m.SetColorIndex(cx+x, cy+y, c)
				}
			}
		}
	}
	box(0, 196, w, h, 4) // floor
	left, right := 50+rng.IntN(30), 240+rng.IntN(30)
	top := 120 + rng.IntN(30)
	box(left, top, right, 180, 1)
	box(left+8, top+8, right-8, 168, 2)
	for n, wheels := 0, 2+rng.IntN(3); n < wheels; n++ {
		x := left + 20 + n*(right-left-40)/max(1, wheels-1)
		disc(x, 182, 17, 1)
		disc(x, 182, 6, 4)
	}
	mast := left + 30 + rng.IntN(right-left-60)
	tip := 30 + rng.IntN(50)
	box(mast-6, tip, mast+6, top+10, 1)
	box(mast-6, tip, min(w-10, mast+40+rng.IntN(60)), tip+12, 3)
	if rng.IntN(2) == 0 {
		box(max(4, left-30), 150, left+10, 164, 3) // intake
	}
	var out bytes.Buffer
	err := png.Encode(&out, m)
	return out.Bytes(), err
}
