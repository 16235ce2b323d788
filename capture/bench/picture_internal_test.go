package bench

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"
)

// photoOf is a picture of a size, as a camera writes it: with a note of where it was taken.
func photoOf(tb testing.TB, kind string, w, h int, up uint16) []byte {
	tb.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			img.Set(x, y, color.NRGBA{uint8(x * 7), uint8(y * 5), 90, 255})
		}
	}
	var b bytes.Buffer
	if kind == "png" {
		if err := png.Encode(&b, img); err != nil {
			tb.Fatal(err)
		}
		text := []byte("tEXtLocation\x00SECRET PLACE")
		chunk := binary.BigEndian.AppendUint32(nil, uint32(len(text)-4))
		chunk = append(chunk, text...)
		chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(text))
		out := append([]byte(nil), b.Bytes()[:33]...) // signature and IHDR
		return append(append(out, chunk...), b.Bytes()[33:]...)
	}
	if err := jpeg.Encode(&b, img, nil); err != nil {
		tb.Fatal(err)
	}
	// TIFF header, one directory with the orientation, and what a camera would add.
	tiff := []byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01")
	tiff = binary.BigEndian.AppendUint16(tiff, up)
	tiff = append(tiff, "\x00\x00\x00\x00\x00\x00SECRET PLACE"...)
	app1 := append([]byte{0xff, 0xe1}, binary.BigEndian.AppendUint16(nil, uint16(len(tiff)+2))...)
	app1 = append(app1, tiff...)
	note := "SECRET PLACE"
	com := append([]byte{0xff, 0xfe, 0, byte(len(note) + 2)}, note...)
	out := append([]byte{0xff, 0xd8}, app1...)
	out = append(out, com...)
	out = append(out, b.Bytes()[2:]...)
	return append(out, "SECRET PLACE"...) // after the end
}

func TestAPhotoLosesWhatTheCameraWrote(t *testing.T) {
	for _, kind := range []string{"jpeg", "png"} {
		b := photoOf(t, kind, 40, 30, 1)
		if !bytes.Contains(b, []byte("SECRET")) {
			t.Fatal("the test's photo has no note")
		}
		got, err := Picture{Type: "text/html", Bytes: b}.clean()
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(got.Bytes, []byte("SECRET")) || bytes.Contains(got.Bytes, []byte("Exif")) {
			t.Errorf("%s: the camera's note is kept", kind)
		}
		if got.Type != "image/"+kind {
			t.Errorf("%s: type %s", kind, got.Type)
		}
		was, _, err := image.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		is, _, err := image.Decode(bytes.NewReader(got.Bytes))
		if err != nil {
			t.Fatalf("%s: what is kept is no picture: %v", kind, err)
		}
		if was.Bounds() != is.Bounds() || was.At(11, 7) != is.At(11, 7) || was.At(39, 29) != is.At(39, 29) {
			t.Errorf("%s: the pixels changed", kind)
		}
	}
}

func TestAPhotoThatIsNotWholeIsRefused(t *testing.T) {
	for _, kind := range []string{"jpeg", "png"} {
		b := photoOf(t, kind, 60, 60, 1)
		for _, n := range []int{0, 10, len(b) / 3, len(b) / 2} {
			if _, err := (Picture{Bytes: b[:n]}).clean(); err == nil {
				t.Errorf("%s: the first %d of %d bytes are kept as a photo", kind, n, len(b))
			}
		}
	}
	if _, err := (Picture{Bytes: []byte("GIF89a not this kind")}).clean(); err == nil || !strings.Contains(err.Error(), "JPEG or PNG") {
		t.Errorf("another kind: %v", err)
	}
	// A head that claims 60,000 by 60,000 pixels, and no more.
	bomb := photoOf(t, "png", 8, 8, 1)
	binary.BigEndian.PutUint32(bomb[16:], 60_000)
	binary.BigEndian.PutUint32(bomb[20:], 60_000)
	binary.BigEndian.PutUint32(bomb[29:], crc32.ChecksumIEEE(bomb[12:29]))
	if _, err := (Picture{Bytes: bomb}).clean(); err == nil || !strings.Contains(err.Error(), "60000 by 60000") {
		t.Errorf("a claim of 3,600 million pixels: %v", err)
	}
}

// CIPA DC-008 (EXIF), tag 0x0112: where the 0th row and the 0th column of the file are in the upright picture.
func TestAPhotoIsPutUpright(t *testing.T) {
	const w, h = 3, 2
	src := image.NewGray(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			src.SetGray(x, y, color.Gray{uint8(10*x + y)})
		}
	}
	type corner struct{ top, left bool }
	for _, c := range []struct {
		up            int
		origin, xmost corner // where the file's first pixel and the last one of its first row are
	}{
		{1, corner{true, true}, corner{true, false}},   // row: top, column: left
		{2, corner{true, false}, corner{true, true}},   // top, right
		{3, corner{false, false}, corner{false, true}}, // bottom, right
		{4, corner{false, true}, corner{false, false}}, // bottom, left
		{5, corner{true, true}, corner{false, true}},   // left, top
		{6, corner{true, false}, corner{false, false}}, // right, top
		{7, corner{false, false}, corner{true, false}}, // right, bottom
		{8, corner{false, true}, corner{true, true}},   // left, bottom
	} {
		img := turned{src, c.up}
		b := img.Bounds()
		at := func(k corner) uint8 {
			x, y := b.Max.X-1, b.Max.Y-1
			if k.left {
				x = 0
			}
			if k.top {
				y = 0
			}
			return img.At(x, y).(color.Gray).Y
		}
		if at(c.origin) != 0 || at(c.xmost) != 10*(w-1) {
			t.Errorf("orientation %d: %d and %d at the corners, want 0 and %d", c.up, at(c.origin), at(c.xmost), 10*(w-1))
		}
	}
	got, err := Picture{Bytes: photoOf(t, "jpeg", 40, 30, 6)}.clean()
	if err != nil {
		t.Fatal(err)
	}
	conf, err := jpeg.DecodeConfig(bytes.NewReader(got.Bytes))
	if err != nil || conf.Width != 30 || conf.Height != 40 {
		t.Errorf("a photo held on its side: %d by %d, %v; want 30 by 40", conf.Width, conf.Height, err)
	}
}

func FuzzPhoto(f *testing.F) {
	for _, kind := range []string{"jpeg", "png"} {
		f.Add(photoOf(f, kind, 16, 12, 6))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := Picture{Bytes: b}.clean()
		if err != nil {
			return
		}
		if _, _, err := image.Decode(bytes.NewReader(got.Bytes)); err != nil {
			t.Fatalf("what is kept cannot be decoded: %v", err)
		}
		again, err := got.clean()
		if err != nil || !bytes.Equal(again.Bytes, got.Bytes) {
			t.Fatalf("cleaned twice it is another picture: %v", err)
		}
	})
}
