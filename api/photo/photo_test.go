package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"
)

func picture(w, h int) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			m.Set(x, y, color.RGBA{uint8(x * 4), uint8(y * 4), 90, 255})
		}
	}
	return m
}

func asJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// located is a JPEG whose APP1 segment says where it was taken: EXIF 2.3 (CIPA
// DC-008) in a TIFF header, with a GPS directory that holds a latitude.
func located(t testing.TB) []byte {
	t.Helper()
	tiff := []byte("II*\x00\x08\x00\x00\x00")
	entry := func(tag, kind uint16, count, value uint32) {
		tiff = binary.LittleEndian.AppendUint16(tiff, tag)
		tiff = binary.LittleEndian.AppendUint16(tiff, kind)
		tiff = binary.LittleEndian.AppendUint32(tiff, count)
		tiff = binary.LittleEndian.AppendUint32(tiff, value)
	}
	tiff = binary.LittleEndian.AppendUint16(tiff, 1)
	entry(0x8825, 4, 1, 26) // GPSInfo at byte 26
	tiff = binary.LittleEndian.AppendUint32(tiff, 0)
	tiff = binary.LittleEndian.AppendUint16(tiff, 2)
	entry(1, 2, 2, 'N')  // GPSLatitudeRef
	entry(2, 5, 3, 0x38) // GPSLatitude
	tiff = binary.LittleEndian.AppendUint32(tiff, 0)
	for _, n := range []uint32{51, 1, 28, 1, 38, 1} {
		tiff = binary.LittleEndian.AppendUint32(tiff, n)
	}
	segment := append([]byte("Exif\x00\x00"), tiff...)
	segment = append(segment, "SECRET-PLACE"...)
	plain := asJPEG(t, picture(40, 30))
	out := append([]byte{}, plain[:2]...) // start of image
	out = append(out, 0xFF, 0xE1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(segment)+2))
	out = append(out, segment...)
	return append(out, plain[2:]...)
}

// Where a photo was taken is gone, and the picture is the same.
func TestLocationIsGone(t *testing.T) {
	t.Parallel()
	upload := located(t)
	if !bytes.Contains(upload, []byte("Exif")) || !bytes.Contains(upload, []byte("SECRET-PLACE")) {
		t.Fatal("the upload says nothing")
	}
	media, out, err := Clean(upload)
	if err != nil || media != "image/jpeg" {
		t.Fatal(media, err)
	}
	for _, word := range []string{"Exif", "SECRET-PLACE", "II*\x00"} {
		if bytes.Contains(out, []byte(word)) {
			t.Errorf("%q is still there", word)
		}
	}
	for at := 2; at+4 <= len(out) && out[at] == 0xFF && out[at+1] != 0xDA; { // segments up to the scan
		if marker := out[at+1]; marker >= 0xE1 && marker <= 0xEF || marker == 0xFE {
			t.Errorf("there is a segment %X", marker)
		}
		at += 2 + int(binary.BigEndian.Uint16(out[at+2:]))
	}
	m, err := jpeg.Decode(bytes.NewReader(out))
	if err != nil || m.Bounds().Dx() != 40 || m.Bounds().Dy() != 30 {
		t.Fatal(m.Bounds(), err)
	}
	r, _, _, _ := m.At(35, 15).RGBA()
	if r>>8 < 110 || r>>8 > 170 {
		t.Errorf("red at (35, 15) is %d, was 140", r>>8)
	}
}

// A text that stands in a PNG goes too, and what it shows stays exactly.
func TestPNG(t *testing.T) {
	t.Parallel()
	m := picture(20, 10)
	media, out, err := Clean(asPNG(t, m))
	if err != nil || media != "image/png" {
		t.Fatal(media, err)
	}
	got, err := png.Decode(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	for x := range 20 {
		if got.At(x, 5) != color.Color(m.At(x, 5)) {
			t.Fatalf("pixel %d: %v, was %v", x, got.At(x, 5), m.At(x, 5))
		}
	}
}

// header is a PNG whose header claims a size and which has nothing else.
func header(w, h uint32) []byte {
	out := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	out = binary.BigEndian.AppendUint32(out, w)
	out = binary.BigEndian.AppendUint32(out, h)
	out = append(out, 8, 2, 0, 0, 0)
	return binary.BigEndian.AppendUint32(out, crc(out[12:]))
}

func crc(b []byte) uint32 { // ISO 3309, as PNG has it
	c := ^uint32(0)
	for _, x := range b {
		c ^= uint32(x)
		for range 8 {
			c = c>>1 ^ 0xEDB88320&-(c&1)
		}
	}
	return ^c
}

func TestRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		upload []byte
		want   error
	}{
		"nothing":           {nil, ErrNoPicture},
		"a text":            {[]byte("<svg onload=alert(1)>"), ErrNoPicture},
		"claims to be huge": {header(60000, 60000), ErrTooLarge},
		"overflows":         {header(1<<31-1, 1<<31-1), ErrNoPicture},
		"too many pixels":   {asPNG(t, image.NewGray(image.Rect(0, 0, 3000, 2001))), ErrTooLarge},
		"too many bytes":    {append(asPNG(t, picture(10, 10)), make([]byte, MaxBytes)...), ErrTooLarge},
		"cut off":           {asJPEG(t, picture(40, 40))[:300], ErrNoPicture},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if _, _, err := Clean(c.upload); !errors.Is(err, c.want) {
				t.Errorf("%v, not %v", err, c.want)
			}
		})
	}
}

// FuzzClean: whatever is sent, nothing panics, and what is kept is a small
// picture that Clean takes again.
func FuzzClean(f *testing.F) {
	f.Add(located(f))
	f.Add(asPNG(f, picture(9, 7)))
	f.Add(header(100, 100))
	f.Fuzz(func(t *testing.T, upload []byte) {
		media, out, err := Clean(upload)
		if err != nil {
			if media != "" || out != nil || !errors.Is(err, ErrNoPicture) && !errors.Is(err, ErrTooLarge) {
				t.Fatalf("%q, %d bytes, %v", media, len(out), err)
			}
			return
		}
		if again, _, err := Clean(out); err != nil || again != media || len(out) > MaxBytes {
			t.Fatalf("%s is not taken again: %v", media, err)
		}
	})
}
