package main

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"html"
	"image"
	"image/color"
	"image/png"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// largePhoto is a picture of nearly as many bytes as may be.
func largePhoto(t *testing.T) []byte {
	t.Helper()
	r := rand.New(rand.NewPCG(3, 4))
	m := image.NewRGBA(image.Rect(0, 0, 415, 415))
	for y := range 415 {
		for x := range 415 {
			m.Set(x, y, color.RGBA{uint8(r.Uint32()), uint8(r.Uint32()), uint8(r.Uint32()), 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	if b.Len() > 512<<10 || b.Len() < 500<<10 {
		t.Fatalf("the photo has %d bytes, want nearly 512 kB", b.Len())
	}
	return b.Bytes()
}

// TestPhotoGoesThroughToTheSheet pins a photo over the page of a running service, and finds the same bytes on the page
// and in the sheet.
func TestPhotoGoesThroughToTheSheet(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(t.Context())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: service.DefaultSettings(), Log: zerolog.Nop(), Listen: "127.0.0.1:0", Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	var url string
	select {
	case a := <-ready:
		url = "http://" + a.String()
	case err := <-ended:
		t.Fatal(err)
	}
	defer func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	c, err := bus.Dial(filepath.Join(dir, service.SocketName), "bench")
	if err != nil {
		t.Fatal(err)
	}
	v := &served{Client: c, tb: t, dir: dir}
	defer v.Close()
	v.begin()

	photo := largePhoto(t)
	res, err := http.Post(url+"/photo?id="+service.NewID()+"&note=as+it+stood", "image/png", bytes.NewReader(photo))
	if err != nil {
		t.Fatal(err)
	}
	var a bench.Answer
	if err := json.NewDecoder(res.Body).Decode(&a); err != nil || !a.OK {
		t.Fatalf("%s: %v %s", res.Status, err, a.Words)
	}
	res.Body.Close()
	read := func(path string) string {
		t.Helper()
		res, err := http.Get(url + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s %v %.200s", path, res.Status, err, b)
		}
		return string(b)
	}
	address := regexp.MustCompile(`<img src="(/photo/[^"]+)" alt="as it stood"`)
	var at string
	v.eventually("the photo is on the page", func() bool {
		m := address.FindStringSubmatch(read("/steps"))
		if m != nil {
			at = m[1]
		}
		return m != nil
	})
	if got := read(at); got != string(photo) {
		t.Errorf("%d bytes come back of %d", len(got), len(photo))
	}
	page := html.UnescapeString(read("/sheet/sheet.html?job=17")) // base64's + is escaped in it
	if !strings.Contains(page, base64.StdEncoding.EncodeToString(photo)) || !strings.Contains(page, "as it stood") {
		t.Errorf("the sheet of %d bytes does not hold the photo", len(page))
	}
	if pdf := read("/sheet/sheet.pdf?job=17"); !strings.Contains(pdf, "/Subtype /Image") {
		t.Errorf("the PDF of %d bytes holds no picture", len(pdf))
	}
}
