package monitor_test

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"math"
	"slices"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// sixth is a screenshot at one sixth of its size, each point the mean of a field of six by six.
func sixth(t *testing.T, shot []byte) [][]float64 {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	out := make([][]float64, b.Dy()/6)
	for y := range out {
		out[y] = make([]float64, b.Dx()/6)
		for x := range out[y] {
			sum := 0.0
			for dy := range 6 {
				for dx := range 6 {
					r, g, bl, _ := img.At(b.Min.X+6*x+dx, b.Min.Y+6*y+dy).RGBA()
					sum += (0.2126*float64(r) + 0.7152*float64(g) + 0.0722*float64(bl)) / 0xffff
				}
			}
			out[y][x] = sum / 36
		}
	}
	return out
}

// heaviest is the part of a small picture that the eye meets first: of the fields of ink that hang together, letters of a word
// joined, the one with most ink. Ink is what differs from the paper by more than a third.
func heaviest(small [][]float64, paper float64) image.Rectangle {
	high, wide := len(small), len(small[0])
	const joins = 3 // points between letters of one word
	ink := func(x, y int) float64 {
		if x < 0 || y < 0 || x >= wide || y >= high {
			return 0
		}
		if d := math.Abs(small[y][x] - paper); d > 0.33 {
			return d
		}
		return 0
	}
	seen := make([]bool, wide*high)
	var best image.Rectangle
	most := 0.0
	for start := range seen {
		if seen[start] || ink(start%wide, start/wide) == 0 {
			continue
		}
		sum, box := 0.0, image.Rectangle{}
		queue := []int{start}
		seen[start] = true
		for len(queue) > 0 {
			at := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			x, y := at%wide, at/wide
			sum += ink(x, y)
			box = box.Union(image.Rect(x, y, x+1, y+1))
			for dy := -1; dy <= 1; dy++ {
				for dx := -joins; dx <= joins; dx++ {
					if nx, ny := x+dx, y+dy; ink(nx, ny) > 0 && !seen[ny*wide+nx] {
						seen[ny*wide+nx] = true
						queue = append(queue, ny*wide+nx)
					}
				}
			}
		}
		if sum > most {
			best, most = box, sum
		}
	}
	return best
}

// TestWhatTheEyeMeetsFirst looks at each face at one sixth of its size, where nothing can be read: of the words, the figures and
// the rule, the heaviest is the figure or the words that matter there, in light and in dark. The bar, the drawing and the large
// button, which stand in their places in every face, are left out.
func TestWhatTheEyeMeetsFirst(t *testing.T) {
	verdict := func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f) }
	for _, face := range []struct {
		name  string
		stage func(*testing.T, *fakeBench)
		shows string // the gauge's newest value
		first string // what is to be met first: one of these elements
	}{
		{"caution", func(_ *testing.T, f *fakeBench) { f.firstFit() }, "", ".cautions"},
		{"instruct", func(_ *testing.T, f *fakeBench) { f.firstFit(); f.show("0.1000"); f.ready() }, "0.7000", ".stands .hero, .do, .place"},
		{"moving", verdict, "0.6300", "#moving .hero"},
		{"in", verdict, "0.5985", "#moving .hero"},
		{"past", verdict, "0.5900", "#moving .hero"},
		{"verdict", verdict, "0.6485", ".siderow.first .hero, .siderow.first .fig"},
		{"question", func(t *testing.T, f *fakeBench) {
			f.firstFit()
			f.question = &bench.Question{Guard: "swap", Words: "Left and right read as each other did before: are they swapped?", Choices: []string{"read again", "as read"}}
			firstPass(t, f)
		}, "", ".do"},
		{"gone", func(t *testing.T, f *fakeBench) { verdict(t, f); f.plug(false) }, "", ".hero.gone"},
	} {
		t.Run(face.name, func(t *testing.T) {
			f := newFakeBench(t)
			face.stage(t, f)
			url := serve(t, monitor.Config{Bench: f})
			ctx := tab(t, 1920, 1080)
			for _, scheme := range []string{"light", "dark"} {
				if scheme == "dark" && testing.Short() {
					continue
				}
				do(t, ctx, theme(scheme), chromedp.Navigate(url+"/bench"))
				live(t, ctx)
				if face.shows != "" {
					f.show(face.shows)
				}
				eventually(t, ctx, "the face", `said("`+face.first+`") !== ""`)
				stood(t, ctx)
				picture(t, ctx, "eye-"+face.name+"-"+scheme)
				shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
				if err != nil {
					t.Fatal(err)
				}
				small := sixth(t, shot)
				paper := middleOf(small)
				met := heaviest(without(small, paper, boxes(t, ctx, ".act, .bar, .side")), paper)
				wanted := boxes(t, ctx, face.first)
				hit := false
				for _, w := range wanted {
					hit = hit || met.Intersect(w).Dx()*met.Intersect(w).Dy()*2 > met.Dx()*met.Dy()
				}
				if !hit {
					t.Errorf("%s: met first at %v of the small picture, want one of %v (%s)", scheme, met, wanted, face.first)
				}
			}
		})
	}
}

// middleOf is the paper of a small picture: most of its points are empty.
func middleOf(small [][]float64) float64 {
	var all []float64
	for _, row := range small {
		all = append(all, row...)
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// boxes are where elements stand, in the small picture.
func boxes(t *testing.T, ctx context.Context, selector string) []image.Rectangle {
	t.Helper()
	got := eval[[][4]float64](t, ctx, `[...document.querySelectorAll("`+selector+`")].map((e) => e.getBoundingClientRect()).filter((r) => r.width > 0).map((r) => [r.left, r.top, r.right, r.bottom])`)
	var out []image.Rectangle
	for _, r := range got {
		out = append(out, image.Rect(int(r[0]/6)-1, int(r[1]/6)-1, int(r[2]/6)+2, int(r[3]/6)+2))
	}
	return out
}

// without is a small picture with some fields as empty as the paper.
func without(small [][]float64, paper float64, fields []image.Rectangle) [][]float64 {
	out := make([][]float64, len(small))
	for y := range small {
		out[y] = append([]float64(nil), small[y]...)
		for x := range out[y] {
			for _, f := range fields {
				if image.Pt(x, y).In(f) {
					out[y][x] = paper
				}
			}
		}
	}
	return out
}
