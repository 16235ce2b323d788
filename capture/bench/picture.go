package bench

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // its decoder
)

// Bounds of a photo: it is part of an entry for ever and must fit the bus, and a few bytes can claim more pixels than a
// small computer has memory for.
const (
	mostPicture = 512 << 10  // bytes
	mostPixels  = 16_000_000 // together
	mostScans   = 32         // of a progressive JPEG; each one goes over all pixels, and a camera makes about ten
)

// turnedQuality is how well a photo is written again that the camera held on its side.
const turnedQuality = 90

// clean decodes a photo whole and gives it without what the camera wrote beside it: the place, the time, the camera, a
// small picture of what was cut off. Its pixels stay byte for byte, except where only the camera's note said which side
// is up: then it is turned and written again.
func (p Picture) clean() (Picture, error) {
	if len(p.Bytes) == 0 || len(p.Bytes) > mostPicture {
		return p, fmt.Errorf("a photo of %d kB: want one of at most %d kB", len(p.Bytes)>>10, mostPicture>>10)
	}
	conf, kind, err := image.DecodeConfig(bytes.NewReader(p.Bytes))
	switch {
	case err != nil || kind != "jpeg" && kind != "png":
		return p, errors.New("this is no photo that can be kept: want a JPEG or PNG picture")
	case conf.Width*conf.Height > mostPixels:
		return p, fmt.Errorf("this photo is %d by %d pixels: want at most %d million in all", conf.Width, conf.Height, mostPixels/1_000_000)
	}
	bare, up, err := []byte(nil), 0, error(nil)
	if kind == "png" {
		bare, err = barePNG(p.Bytes)
	} else {
		bare, up, err = bareJPEG(p.Bytes)
	}
	if err != nil {
		return p, err
	}
	img, _, err := image.Decode(bytes.NewReader(bare))
	if err != nil {
		return p, fmt.Errorf("this photo is not whole: %w", err)
	}
	p.Type = "image/" + kind
	if up > 1 && up <= 8 {
		var out bytes.Buffer
		if err := jpeg.Encode(&out, turned{img, up}, &jpeg.Options{Quality: turnedQuality}); err != nil {
			return p, fmt.Errorf("turn the photo: %w", err)
		}
		bare = out.Bytes()
	}
	if len(bare) > mostPicture {
		return p, fmt.Errorf("turned upright the photo has %d kB: want at most %d kB", len(bare)>>10, mostPicture>>10)
	}
	p.Bytes = bare
	return p, nil
}

var errTorn = errors.New("this photo is not whole")

// bareJPEG copies the segments that make the picture and leaves the others out: all APPn but JFIF's (APP0) and the one
// that says how the colours are kept (APP14), and comments. It stops at the end of the image: what is written after it is no
// picture. The second result is the orientation of the EXIF note, 0 where there is none.
func bareJPEG(b []byte) (bare []byte, up int, err error) {
	out := append([]byte(nil), b[:2]...) // SOI; the decoder has seen it
	scans := 0
	for i := 2; ; {
		for i < len(b) && b[i] == 0xff && i+1 < len(b) && b[i+1] == 0xff {
			i++ // fill bytes
		}
		if i+4 > len(b) || b[i] != 0xff {
			return nil, 0, errTorn
		}
		marker, n := b[i+1], int(binary.BigEndian.Uint16(b[i+2:]))
		if n < 2 || i+2+n > len(b) {
			return nil, 0, errTorn
		}
		segment := b[i : i+2+n]
		i += 2 + n
		switch {
		case marker == 0xe1 && up == 0:
			up = orientation(segment[4:])
		case marker >= 0xe1 && marker <= 0xef && marker != 0xee, marker == 0xfe:
		default:
			out = append(out, segment...)
		}
		if marker != 0xda { // start of scan
			continue
		}
		if scans++; scans > mostScans {
			return nil, 0, fmt.Errorf("this photo comes in more than %d scans: save it as a plain JPEG", mostScans)
		}
		from := i
		for ; i+1 < len(b) && (b[i] != 0xff || b[i+1] == 0 || b[i+1] >= 0xd0 && b[i+1] <= 0xd7); i++ { // entropy-coded, stuffed zeros, restarts
		}
		out = append(out, b[from:i]...)
		if i+1 >= len(b) || b[i+1] == 0xd9 {
			return append(out, 0xff, 0xd9), up, nil
		}
	}
}

// orientation reads tag 0x0112 of an EXIF segment (TIFF 6.0, section 2: header, then the first directory); 0 where it is
// not there.
func orientation(b []byte) int {
	b, ok := bytes.CutPrefix(b, []byte("Exif\x00\x00"))
	if !ok || len(b) < 8 {
		return 0
	}
	var order binary.ByteOrder = binary.BigEndian
	if b[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(b[4:]))
	if at+2 > int64(len(b)) {
		return 0
	}
	count := int64(order.Uint16(b[at:]))
	for k := int64(0); k < count; k++ {
		e := at + 2 + 12*k
		if e+12 > int64(len(b)) {
			return 0
		}
		if order.Uint16(b[e:]) == 0x0112 {
			return int(order.Uint16(b[e+8:]))
		}
	}
	return 0
}

// turned is a picture put upright: EXIF's orientation says where its first row and column are.
type turned struct {
	image.Image
	up int
}

// Bounds of the upright picture.
func (t turned) Bounds() image.Rectangle {
	b := t.Image.Bounds()
	if t.up >= 5 {
		return image.Rect(0, 0, b.Dy(), b.Dx())
	}
	return image.Rect(0, 0, b.Dx(), b.Dy())
}

// At gives a pixel of the upright picture.
func (t turned) At(x, y int) color.Color {
	b := t.Image.Bounds()
	w, h := b.Dx()-1, b.Dy()-1
	switch t.up {
	case 2:
		x = w - x
	case 3:
		x, y = w-x, h-y
	case 4:
		y = h - y
	case 5:
		x, y = y, x
	case 6:
		x, y = y, h-x
	case 7:
		x, y = w-y, h-x
	case 8:
		x, y = w-y, x
	}
	return t.Image.At(b.Min.X+x, b.Min.Y+y)
}

// barePNG copies the chunks that make the picture (ISO/IEC 15948, clause 11) and leaves out texts, times, EXIF and
// profiles, and whatever stands after the end.
func barePNG(b []byte) ([]byte, error) {
	const signature = 8
	out := append([]byte(nil), b[:signature]...)
	for i := signature; ; {
		if i+12 > len(b) {
			return nil, errTorn
		}
		n := int64(binary.BigEndian.Uint32(b[i:]))
		if int64(i)+12+n > int64(len(b)) {
			return nil, errTorn
		}
		kind, chunk := string(b[i+4:i+8]), b[i:int64(i)+12+n]
		switch kind {
		case "IHDR", "PLTE", "tRNS", "gAMA", "cHRM", "sRGB", "sBIT", "IDAT", "IEND":
			out = append(out, chunk...)
		}
		if kind == "IEND" {
			return out, nil
		}
		i += len(chunk)
	}
}
