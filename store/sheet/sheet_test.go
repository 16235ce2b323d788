package sheet_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"thoud/calc/quantity"
	"thoud/store/sheet"
)

func picture(t *testing.T) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 320, 200))
	for y := range 200 {
		for x := range 320 {
			m.SetGray(x, y, color.Gray{Y: uint8((x*y/40 + x) % 256)})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestLook(t *testing.T) {
	dir := os.Getenv("LOOK")
	if dir == "" {
		return
	}
	sh := play(t).sheet()
	for name, write := range map[string]func(*bytes.Buffer) error{
		"a4.pdf": func(b *bytes.Buffer) error { return sheet.PDF(b, sh, sheet.Options{System: quantity.Inch}) },
		"letter.pdf": func(b *bytes.Buffer) error {
			return sheet.PDF(b, sh, sheet.Options{System: quantity.Metric, Letter: true})
		},
		"page.html":  func(b *bytes.Buffer) error { return sheet.HTML(b, sh, sheet.Options{System: quantity.Inch}) },
		"sheet.csv":  func(b *bytes.Buffer) error { return sheet.CSV(b, sh, sheet.Options{System: quantity.Inch}) },
		"sheet.json": func(b *bytes.Buffer) error { return sheet.JSON(b, sh) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
