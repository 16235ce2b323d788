package monitor_test

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

var update = flag.Bool("update", false, "write the screenshots of the README")

// TestScreens takes the screenshots of the README, and writes them where -update is given: else to a temporary folder.
func TestScreens(t *testing.T) {
	dir := t.TempDir()
	if *update {
		dir = filepath.Join("..", "..", "testdata", "monitor", "screens")
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	ctx := tab(t, 1920, 1080)
	for _, s := range []struct {
		name, page, scheme string
		prepare            func()
		shows              string
	}{
		{"bench", "bench", "light", func() {}, `said("#moving .hero") === "0.0315 in"`},
		{"wall", "wall", "dark", func() { f.show("0.5900") }, `said("[data-moving-words]").startsWith("PAST.")`},
		{"verdict", "bench", "light", func() { oneSideMoved(t, f) }, `said(".order.hero") === "5 thou"`},
		{"ledger", "ledger", "light", func() {}, `said("h1") === "Ledger"`},
	} {
		s.prepare()
		do(t, ctx, theme(s.scheme), chromedp.Navigate(url+"/"+s.page))
		eventually(t, ctx, s.name, s.shows)
		if s.page != "ledger" {
			live(t, ctx)
		}
		shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		if err != nil {
			t.Fatal(err)
		}
		small, err := shrink(shot)
		if err != nil {
			t.Fatal(err)
		}
		if len(small) < 5_000 || len(small) > 200_000 {
			t.Errorf("the screenshot of %s has %d bytes", s.name, len(small))
		}
		if err := os.WriteFile(filepath.Join(dir, s.name+".png"), small, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// oneSideMoved takes the second pass with the left block where it was to be moved, the right one short of it.
func oneSideMoved(t *testing.T, f *fakeBench) {
	t.Helper()
	for _, value := range []string{"0.5985", "0.6060", "0.1000"} {
		f.show(value)
		f.must(t, t.Context(), benchVerb{"take", ""})
	}
	f.show("0.5985")
}

// shrink halves a picture, each pixel the mean of four.
func shrink(shot []byte) ([]byte, error) {
	big, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		return nil, err
	}
	b := big.Bounds()
	small := image.NewRGBA(image.Rect(0, 0, b.Dx()/2, b.Dy()/2))
	for y := range b.Dy() / 2 {
		for x := range b.Dx() / 2 {
			var sum [3]uint32
			for _, d := range [4]image.Point{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
				r, g, bl, _ := big.At(b.Min.X+2*x+d.X, b.Min.Y+2*y+d.Y).RGBA()
				sum[0], sum[1], sum[2] = sum[0]+r>>8, sum[1]+g>>8, sum[2]+bl>>8
			}
			small.Set(x, y, color.RGBA{uint8(sum[0] / 4 &^ 7), uint8(sum[1] / 4 &^ 7), uint8(sum[2] / 4 &^ 7), 255})
		}
	}
	var out bytes.Buffer
	err = (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, small)
	return out.Bytes(), err
}
