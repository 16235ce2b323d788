package monitor_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// noise is a picture that no coder makes small.
func noise(wide, high int) image.Image {
	r := rand.New(rand.NewPCG(1, 2))
	m := image.NewRGBA(image.Rect(0, 0, wide, high))
	for y := range high {
		for x := range wide {
			m.Set(x, y, color.RGBA{uint8(r.Uint32()), uint8(r.Uint32()), uint8(r.Uint32()), 255})
		}
	}
	return m
}

func jpegOf(t *testing.T, wide, high int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, noise(wide, high), &jpeg.Options{Quality: 90}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func pngOf(t *testing.T, wide, high int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, noise(wide, high)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func lastPhoto(f *fakeBench) (bench.Entry, int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	var last bench.Entry
	n := 0
	for i := uint64(1); i <= f.state.N; i++ {
		if e := f.bodies[i]; e.Kind == bench.Photo {
			last, n = e, n+1
		}
	}
	return last, n
}

// TestPhotoInABrowser pins a photo that is too large from the Bench page, as a phone would, and sees it on Bench and
// Steps.
func TestPhotoInABrowser(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	large := jpegOf(t, 2400, 1200)
	if len(large) <= 512<<10 {
		t.Fatalf("the photo has %d bytes: not too large", len(large))
	}
	file := filepath.Join(t.TempDir(), "block.jpg")
	if err := os.WriteFile(file, large, 0o600); err != nil {
		t.Fatal(err)
	}
	ctx := tab(t, 390, 844)
	complaints := listen(t, ctx)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	do(t, ctx, chromedp.SetUploadFiles(chromedp.CSS("#photo input[type=file]"), []string{file}),
		chromedp.SetValue(chromedp.CSS("#photo input[name=note]"), "left <b>block</b>"), chromedp.Click(chromedp.CSS("#photo button")))
	shown := `(() => { const i = document.querySelector(".photos img"); return i && i.complete && i.naturalWidth > 0 && i.alt === "left <b>block</b>"; })()`
	do(t, ctx, chromedp.ScrollIntoView(chromedp.CSS("#photo")))
	eventually(t, ctx, "the photo on the Bench page", shown)
	picture(t, ctx, "bench-photo")
	e, n := lastPhoto(f)
	if n != 1 || e.Place.Step != "guide-clearance" {
		t.Fatalf("%d photos, the last at %s", n, e.Place)
	}
	c, kind, err := image.DecodeConfig(bytes.NewReader(e.Picture.Bytes))
	if err != nil || kind != "jpeg" || e.Picture.Type != "image/jpeg" || len(e.Picture.Bytes) > 512<<10 {
		t.Errorf("kept: %s, %s, %d bytes, %v", kind, e.Picture.Type, len(e.Picture.Bytes), err)
	}
	if c.Width < 400 || c.Width >= 2400 || c.Width < 2*c.Height-2 || c.Width > 2*c.Height+2 {
		t.Errorf("kept at %d by %d, want smaller than 2400 by 1200 and as wide", c.Width, c.Height)
	}
	do(t, ctx, chromedp.Navigate(url+"/steps"))
	live(t, ctx)
	do(t, ctx, chromedp.ScrollIntoView(chromedp.CSS(".steps .photos img")))
	eventually(t, ctx, "the photo at its step", shown)
	if text := filepath.Join(t.TempDir(), "x.jpg"); os.WriteFile(text, []byte("<script>1</script>"), 0o600) == nil {
		do(t, ctx, chromedp.SetUploadFiles(chromedp.CSS("#photo input[type=file]"), []string{text}), chromedp.Click(chromedp.CSS("#photo button")))
		eventually(t, ctx, "the refusal", `said("#say").includes("no photo that can be kept")`)
	}
	if _, n := lastPhoto(f); n != 1 {
		t.Errorf("%d photos: what is none was kept", n)
	}
	if said := complaints(); len(said) > 0 {
		t.Errorf("the console says: %s", strings.Join(said, "\n"))
	}
}

// TestPhotoIsCheckedByItsContent sends what a page of ours would not.
func TestPhotoIsCheckedByItsContent(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	send := func(kind string, body []byte) int {
		t.Helper()
		res, err := http.Post(url+"/photo?id=0123456789ab&note=x", kind, bytes.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		_, _ = io.Copy(io.Discard, res.Body)
		res.Body.Close()
		return res.StatusCode
	}
	var wide bytes.Buffer
	if err := png.Encode(&wide, image.NewGray(image.Rect(0, 0, 12_001, 1))); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, kind string
		body       []byte
		want       int
	}{
		{"markup called a picture", "image/jpeg", []byte("<html><script>alert(1)</script>"), http.StatusUnsupportedMediaType},
		{"a drawing that can hold a script", "image/svg+xml", []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`), http.StatusUnsupportedMediaType},
		{"a picture of another kind", "image/gif", []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), http.StatusUnsupportedMediaType},
		{"nothing", "image/jpeg", nil, http.StatusUnsupportedMediaType},
		{"what a form of another page could send", "text/plain", jpegOf(t, 8, 8), http.StatusUnsupportedMediaType},
		{"too many bytes", "image/png", pngOf(t, 500, 500), http.StatusRequestEntityTooLarge},
		{"too many pixels", "image/png", wide.Bytes(), http.StatusUnsupportedMediaType},
	} {
		if got := send(c.kind, c.body); got != c.want {
			t.Errorf("%s (%d bytes): status %d, want %d", c.name, len(c.body), got, c.want)
		}
	}
	if _, n := lastPhoto(f); n != 0 {
		t.Fatalf("%d of them were kept", n)
	}
	// A PNG that is called a JPEG is kept as what it is.
	if got := send("image/jpeg", pngOf(t, 8, 8)); got != http.StatusOK {
		t.Fatalf("a small picture: status %d", got)
	}
	e, _ := lastPhoto(f)
	res, err := http.Get(url + "/photo/" + e.ID)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || !bytes.Equal(body, e.Picture.Bytes) {
		t.Errorf("%d bytes come back of %d: %v", len(body), len(e.Picture.Bytes), err)
	}
	for k, want := range map[string]string{"Content-Type": "image/png", "X-Content-Type-Options": "nosniff"} {
		if got := res.Header.Get(k); got != want {
			t.Errorf("%s: %q, want %q", k, got, want)
		}
	}
	if p := res.Header.Get("Content-Security-Policy"); !strings.Contains(p, "img-src 'self'") || !strings.Contains(p, "script-src 'self'") {
		t.Errorf("policy %q", p)
	}
	// An entry that is no photo is no picture, and a photo that came by another way and is none is not served.
	bad := f.mustAdd(bench.Entry{Kind: bench.Photo, Place: bench.Place{Build: "17", Step: "guide-clearance"}, Picture: &bench.Picture{Type: "text/html", Bytes: []byte("<script>")}})
	for id, want := range map[string]int{"entry-000001": http.StatusNotFound, "none": http.StatusNotFound, bad.ID: http.StatusUnsupportedMediaType} {
		res, err := http.Get(fmt.Sprintf("%s/photo/%s", url, id))
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if res.StatusCode != want {
			t.Errorf("photo %s: status %d, want %d", id, res.StatusCode, want)
		}
	}
}
