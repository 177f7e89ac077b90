// Package photo makes a picture harmless: what is kept of an upload is the
// picture alone, written anew, so that nothing a camera added (place, time,
// device: EXIF and its like) is in it, and nothing that is no picture.
//
// It decodes only after it has read the size from the header, so a small file
// that claims to be huge costs nothing. It knows no HTTP and no database; api
// imports it.
package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
)

// Limits of a picture that is taken. A device shrinks its photos to far less.
const (
	MaxBytes  = 4 << 20
	MaxPixels = 6_000_000
)

// Errors that a sender can do something about.
var (
	ErrNoPicture = errors.New("this is no JPEG or PNG picture that can be read")
	ErrTooLarge  = fmt.Errorf("the picture is too large: at most %d MB and %d million pixels are kept; make it smaller", MaxBytes>>20, MaxPixels/1_000_000)
)

const quality = 85 // of JPEG: a robot is recognised, and it stays small

// Clean gives the picture of an upload, written anew, and its media type.
// Errors: ErrNoPicture, ErrTooLarge.
func Clean(upload []byte) (media string, out []byte, err error) {
	if len(upload) > MaxBytes {
		return "", nil, ErrTooLarge
	}
	size, form, err := image.DecodeConfig(bytes.NewReader(upload))
	switch {
	case err != nil || size.Width < 1 || size.Height < 1:
		return "", nil, ErrNoPicture
	case size.Height > MaxPixels/size.Width:
		return "", nil, ErrTooLarge
	}
	picture, form2, err := image.Decode(bytes.NewReader(upload))
	if err != nil || form2 != form {
		return "", nil, ErrNoPicture
	}
	var w bytes.Buffer
	if form == "png" {
		media, err = "image/png", png.Encode(&w, picture)
	} else {
		media, err = "image/jpeg", jpeg.Encode(&w, picture, &jpeg.Options{Quality: quality})
	}
	switch {
	case err != nil:
		return "", nil, ErrNoPicture
	case w.Len() > MaxBytes:
		return "", nil, ErrTooLarge
	}
	return media, w.Bytes(), nil
}
