package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/png"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

func drawing(t *testing.T, side int) (upload []byte, digest string) {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, side, side))); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(b.Bytes())
	return b.Bytes(), hex.EncodeToString(sum[:])
}

// A scout visits a pit: the picture and the report arrive, others of the event
// see the picture, nobody else does, and a whole export brings it back.
func TestPitVisit(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(6, 0)
	scout := lead.join("scout", "s01")
	upload, digest := drawing(t, 40)
	path := ".blobs/" + digest
	scout.send("PUT", path, string(upload), "Content-Type", "image/png").want(204)
	scout.send("PUT", path, string(upload), "Content-Type", "image/png").want(204) // again is the same
	a := lead.get(path).want(200)
	if a.header.Get("Content-Type") != "image/png" || a.header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%v", a.header)
	}
	if m, err := png.Decode(bytes.NewReader(a.body)); err != nil || m.Bounds().Dx() != 40 {
		t.Errorf("%v", err)
	}
	f.client().send("GET", "/api/events/"+lead.event.String()+"/blobs/"+digest, nil).problem(notSignedIn)

	other, wrong := drawing(t, 41)
	scout.send("PUT", path, string(other), "Content-Type", "image/png").problem(invalid, "damaged")
	lead.get(".blobs/" + wrong).problem(notFound)
	text := sha256.Sum256([]byte("<svg>"))
	scout.send("PUT", ".blobs/"+hex.EncodeToString(text[:]), "<svg>", "Content-Type", "image/png").problem(wrongMedia)
	large, name := drawing(t, 2500)
	scout.send("PUT", ".blobs/"+name, string(large), "Content-Type", "image/png").problem(tooLarge, "pixels")

	report := func(who string) sentRevision {
		return sentRevision{
			RevisionID: uuid.Must(uuid.NewV7()), RecordID: record.PitID(lead.event, "40101", who), Parents: []uuid.UUID{}, Kind: "pit", Lamport: 1, MadeAt: time.Now(),
			Body: mustJSON(t, map[string]any{"team": "40101", "scout": who, "photos": []string{digest}, "note": "rattles", "routines": []map[string]any{{"name": "two barrels", "path": [][2]float64{{1, 2}, {3, 4}}}}}),
		}
	}
	if got := scout.push(report("s01")).Items[0]; got.Outcome != "stored" {
		t.Fatalf("%+v", got.Problem)
	}
	if got := scout.push(report("s02")).Items[0]; got.Outcome != "refused" {
		t.Error("a scout reports in another's name")
	}

	var photos photosView
	a2 := lead.join("scout", "s09").get(".photos").want(200, &photos)
	if photos.Photos["40101"] != digest || len(photos.Photos) != 1 || bytes.Contains(a2.body, []byte("rattles")) {
		t.Errorf("%s", a2.body)
	}
	lead.get(".photos", "If-None-Match", a2.header.Get("ETag")).want(304)

	archive := lead.get(".export?form=ndjson").want(200)
	to := newFixture(t)
	var r restored
	there := to.account()
	there.send("POST", "/api/restore", string(archive.body), "Content-Type", "application/x-ndjson").want(201, &r)
	there.event = r.EventID
	if b := there.get(path).want(200); !bytes.Equal(a.body, b.body) {
		t.Error("the picture came back otherwise")
	}
	if b := lead.get(".export?form=ndjson&redact=people").want(200); bytes.Contains(b.body, []byte(digest)) || !bytes.Contains(b.body, []byte("two barrels")) {
		t.Error("without people a photo stays, or more than it goes")
	}
}
