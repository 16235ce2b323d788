package main

import (
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
	"unicode"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// hostile are texts that do something to what shows them: clear the screen, set a window's title, go back over the line,
// turn the direction of writing.
const hostile = "torn\x1b[2J\x1b]0;owned\x07\rall good\u202edoog lla\u0085"

// appendEntry seals one more entry onto a ledger, as an older program or another's hand would have.
func appendEntry(t *testing.T, state string, draft bench.Entry) {
	t.Helper()
	s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	name, err := s.Bench(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	loaded, err := s.Load(t.Context(), name)
	if err != nil {
		t.Fatal(err)
	}
	draft.Bench, draft.ID, draft.At = name, service.NewID(), time.Now().UnixMicro()
	e, body, err := loaded.Chain.Number(draft)
	if err != nil {
		t.Fatal(err)
	}
	next, err := loaded.Chain.Next(e, body)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Record(t.Context(), name, e, body, next.Seal, nil, store.Checkpoint{}); err != nil {
		t.Fatal(err)
	}
}

// An older ledger may hold any text. Nothing that prints it for people hands on what acts.
func TestHostileTextsOfAnOlderLedger(t *testing.T) {
	state := unpackLedger(t, "first-round")
	place := bench.Place{Build: "demo-1", Step: "deck", Pass: 2, Point: "left.front"}
	appendEntry(t, state, bench.Entry{Kind: bench.Overridden, Place: place, By: hostile, Reason: hostile, Override: &bench.Override{What: "needs", Name: hostile}})
	appendEntry(t, state, bench.Entry{Kind: bench.Reopened, Place: place, By: hostile, Reason: hostile})
	for _, args := range [][]string{
		{"readings"}, {"build", "show", "demo-1"}, {"build", "list"}, {"build", "history", "deck/left.front"}, {"verify"}, {"export", "--format", "csv"},
		{"sheet", "demo-1", "--format", "html"}, {"sheet", "demo-1", "--format", "csv"}, {"sheet", "demo-1", "--format", "json"},
	} {
		out, errs, code := thoud(t, append([]string{"--state", state}, args...)...)
		if code != 0 {
			t.Errorf("%v: status %d: %s", args, code, errs)
		}
		out = strings.ReplaceAll(out, "\r\n", "\n") // lines of a CSV table
		if i := strings.IndexFunc(out, func(r rune) bool {
			return r != '\n' && r != '\t' && unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r)
		}); i >= 0 {
			t.Errorf("%v hands on %q", args, out[max(0, i-30):min(len(out), i+30)])
		}
	}
	// A fault that names a hostile text is clean too.
	if _, errs, code := thoud(t, "--state", state, "sheet", hostile); code == 0 || strings.ContainsAny(errs, "\x1b\r\x07") {
		t.Errorf("status %d, %q", code, errs)
	}
}

func TestCleanWriterKeepsSignsWhole(t *testing.T) {
	var b strings.Builder
	w := &cleanWriter{raw: &b}
	for _, c := range []byte("± 0.02 mm\té\x1b\n") { // a byte at a time
		if _, err := w.Write([]byte{c}); err != nil {
			t.Fatal(err)
		}
	}
	if got, want := b.String(), "± 0.02 mm\té \n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// What is named with -o is a file, or a thing that takes bytes; a thing is never replaced by a file.
func TestOutputGoesThroughDevicesAndFollowsNoLink(t *testing.T) {
	state := unpackLedger(t, "first-round")
	if s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)); err != nil {
		t.Fatal(err)
	} else if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	got := make(chan int, 1)
	go func() {
		b, _ := os.ReadFile(pipe)
		got <- len(b)
	}()
	if _, errs, code := thoud(t, "--state", state, "export", "-o", pipe); code != 0 {
		t.Fatalf("to a pipe: %s", errs)
	}
	select {
	case n := <-got:
		if n < 1000 {
			t.Errorf("%d bytes came through the pipe", n)
		}
	case <-time.After(10 * time.Second):
		t.Error("nothing came through the pipe")
	}
	if info, err := os.Lstat(pipe); err != nil || info.Mode()&os.ModeNamedPipe == 0 {
		t.Errorf("the pipe was replaced: %v", err)
	}
	if os.Getuid() == 0 { // a device of our own: never risk the machine's
		null := filepath.Join(dir, "null")
		if err := syscall.Mknod(null, syscall.S_IFCHR|0o666, 1<<8|3); err == nil {
			if _, errs, code := thoud(t, "--state", state, "export", "-o", null); code != 0 && !strings.Contains(errs, "permission") {
				t.Errorf("to a device: %s", errs)
			}
			if info, err := os.Lstat(null); err != nil || info.Mode()&os.ModeCharDevice == 0 {
				t.Errorf("the device was replaced: %v", err)
			}
		} else {
			t.Logf("not run: no device can be made here (%v)", err)
		}
	}
	mine, link := filepath.Join(dir, "mine"), filepath.Join(dir, "link")
	if err := errors.Join(os.WriteFile(mine, []byte("mine"), 0o600), os.Symlink(mine, link)); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := thoud(t, "--state", state, "export", "-o", link); code == 0 || !strings.Contains(errs, "link") {
		t.Errorf("to a link: status %d, %q", code, errs)
	}
	if b, err := os.ReadFile(mine); err != nil || string(b) != "mine" {
		t.Errorf("the file at the link's end is %q, %v", b, err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link was replaced: %v", err)
	}
}

// A photo given by command is cleaned like one from the page: the bench does it, whoever asks.
func TestAPhotoOfHalfAPictureIsRefused(t *testing.T) {
	var png []byte
	png = append(png, "\x89PNG\r\n\x1a\n"...)
	png = binary.BigEndian.AppendUint32(png, 13)
	png = append(png, "IHDR"...)
	v := bench.Verb{Name: bench.DoPhoto, Picture: &bench.Picture{Type: "image/png", Bytes: png}}
	if _, err := v.Clean(); err == nil {
		t.Error("half a head of a PNG is kept as a photo")
	}
}
