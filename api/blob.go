package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/danielgtaylor/huma/v2"

	"sextant/api/photo"
	"sextant/stats/record"
	"sextant/store"
)

// Pictures of pits. A blob is known by what a device sent; what is kept of it
// is the picture alone (package photo).

// BlobPath names a picture of an event.
type BlobPath struct {
	EventPath
	SHA256 string `path:"sha256" pattern:"^[0-9a-f]{64}$" doc:"Of what the device sent, in hexadecimal"`
}

// digest of the path, whose form was checked.
func (p *BlobPath) digest() (d store.Digest) {
	hex.Decode(d[:], []byte(p.SHA256))
	return d
}

type putBlobInput struct {
	BlobPath
	RawBody []byte `contentType:"image/jpeg"`
}

func (s *Server) putBlob(ctx context.Context, in *putBlobInput) (*struct{}, error) {
	id := in.digest()
	if sha256.Sum256(in.RawBody) != id {
		return nil, invalid.because("The picture was damaged on the way: it does not have the SHA-256 of the address. Send it again.",
			problemItem{Parameter: "sha256", Message: "is of something else"})
	}
	media, picture, err := photo.Clean(in.RawBody)
	switch {
	case errors.Is(err, photo.ErrTooLarge):
		return nil, tooLarge.because(sentence(err) + ".")
	case err != nil:
		return nil, wrongMedia.because(sentence(err) + ".")
	}
	err = s.opt.Store.PutBlob(ctx, in.Event, id, store.Blob{Media: media, Bytes: picture})
	if errors.Is(err, store.ErrInvalid) {
		return nil, tooLarge.because("The event has as many pictures as it may have. Records without a picture are still taken.")
	}
	return nil, err
}

func (s *Server) getBlob(ctx context.Context, in *BlobPath) (*huma.StreamResponse, error) {
	blob, err := s.opt.Store.Blob(ctx, in.Event, in.digest())
	if err != nil {
		return nil, err
	}
	return &huma.StreamResponse{Body: func(hc huma.Context) {
		hc.SetHeader("Content-Type", blob.Media)
		hc.SetHeader("Cache-Control", "private, max-age=31536000, immutable")
		hc.BodyWriter().Write(blob.Bytes)
	}}, nil
}

// photosView is one photo of each robot, to recognise it by.
type photosView struct {
	Photos map[record.TeamID]string `json:"photos" doc:"By team: the SHA-256 of the first photo of the latest visit that has one"`
}

type photosOutput struct {
	ETag string `header:"ETag"`
	Body photosView
}

// getPhotos says nothing of what else a visit brought: scouts see it.
func (s *Server) getPhotos(ctx context.Context, in *readInput) (*photosOutput, error) {
	records, err := s.opt.Store.Records(ctx, in.Event, store.Filter{Kind: record.KindPit})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(records, func(a, b store.Record) int { return a.MadeAt.Compare(b.MadeAt) })
	out := &photosOutput{Body: photosView{Photos: map[record.TeamID]string{}}}
	hash := sha256.New()
	for i := range records {
		var body record.PitBody
		if err := json.Unmarshal(records[i].Body, &body); err != nil {
			return nil, err
		}
		if len(body.Photos) == 0 || body.Discarded {
			continue
		}
		out.Body.Photos[body.Team] = body.Photos[0]
		fmt.Fprintf(hash, "%s %s\n", body.Team, body.Photos[0])
	}
	out.ETag = etag(hex.EncodeToString(hash.Sum(nil)[:8]))
	return out, fresh(in.Seen, out.ETag)
}
