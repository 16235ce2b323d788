package simulate_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"go.uber.org/goleak"

	"thoud/calc/quantity"
	"thoud/devices"
	"thoud/devices/simulate"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// mustProfile finds one of the shipped profiles.
func mustProfile(tb testing.TB, name string) devices.Profile {
	tb.Helper()
	all, err := devices.Profiles(nil)
	if err != nil {
		tb.Fatal(err)
	}
	for _, p := range all {
		if p.Name == name {
			return p
		}
	}
	tb.Fatalf("no profile %q", name)
	return devices.Profile{}
}

func mustParse(tb testing.TB, s string) quantity.Value {
	tb.Helper()
	v, err := quantity.Parse(s)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

func mustOpen(tb testing.TB, o simulate.Options) *simulate.Gauge {
	tb.Helper()
	if o.Dir == "" {
		o.Dir = tb.TempDir()
	}
	if o.Name == "" {
		o.Name = "dial-1"
	}
	g, err := simulate.Open(o)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := g.Close(); err != nil {
			tb.Error(err)
		}
	})
	return g
}

// listener is a reader of a port, with the gauge's decoder behind it.
type listener struct {
	f       *os.File
	dec     devices.Decoder
	samples []devices.Sample
	errs    []error
}

func mustListen(tb testing.TB, path string, p devices.Profile) *listener {
	tb.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { f.Close() })
	dec, err := p.NewDecoder()
	if err != nil {
		tb.Fatal(err)
	}
	return &listener{f: f, dec: dec}
}

// until reads until done says so; it fails the test after two seconds.
func (l *listener) until(tb testing.TB, done func() bool) {
	tb.Helper()
	buf := make([]byte, 256)
	if err := l.f.SetReadDeadline(time.Now().Add(2 * time.Second)); err != nil {
		tb.Fatal(err)
	}
	for !done() {
		n, err := l.f.Read(buf)
		if err != nil {
			tb.Fatalf("read: %v (%d samples, errors %v)", err, len(l.samples), l.errs)
		}
		l.dec.Feed(buf[:n], func(s devices.Sample, err error) {
			if err != nil {
				l.errs = append(l.errs, err)
				return
			}
			s.Frame, s.Text = append([]byte(nil), s.Frame...), append([]byte(nil), s.Text...)
			l.samples = append(l.samples, s)
		})
	}
}

func TestPressedKeySendsTheDisplay(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-cr")
	g := mustOpen(t, simulate.Options{Profile: p})
	l := mustListen(t, g.Path(), p)
	for _, want := range []string{"0.000 mm", "12.345 mm", "-0.021 mm"} {
		g.Set(mustParse(t, want))
		if err := g.Send(); err != nil {
			t.Fatal(err)
		}
		n := len(l.samples)
		l.until(t, func() bool { return len(l.samples) > n })
		if got := l.samples[n].Value.String(); got != want {
			t.Errorf("sent %s, read %s", want, got)
		}
	}
	if len(l.errs) > 0 {
		t.Error(l.errs)
	}
}

func TestPolledGaugeAnswers(t *testing.T) {
	p := mustProfile(t, "text-polled-decimal-crlf")
	g := mustOpen(t, simulate.Options{Profile: p})
	g.SetStatus(devices.Stable)
	g.Set(mustParse(t, "1.250 mm"))
	l := mustListen(t, g.Path(), p)
	for i := range 3 {
		if _, err := l.f.Write(p.Poll.Request); err != nil {
			t.Fatal(err)
		}
		l.until(t, func() bool { return len(l.samples) == i+1 })
	}
	for _, s := range l.samples {
		if s.Value.String() != "1.250 mm" || s.Status != devices.Stable {
			t.Errorf("read %s %s", s.Value, s.Status)
		}
	}
}

func TestUnplugAndReturnUnderAnotherName(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-cr")
	dir := t.TempDir()
	g := mustOpen(t, simulate.Options{Profile: p, Dir: dir, Name: "port0"})
	l := mustListen(t, g.Path(), p)
	if err := g.Unplug(); err != nil {
		t.Fatal(err)
	}
	if n, err := l.f.Read(make([]byte, 8)); err == nil && n > 0 {
		t.Errorf("read %d bytes from an unplugged gauge", n)
	}
	if err := g.Send(); !errors.Is(err, simulate.ErrUnplugged) {
		t.Errorf("Send while unplugged: %v", err)
	}
	if _, err := os.Lstat(g.Path()); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the link is still there: %v", err)
	}
	if err := g.Replug("port1"); err != nil {
		t.Fatal(err)
	}
	if want := filepath.Join(dir, "port1"); g.Path() != want {
		t.Errorf("path %s, want %s", g.Path(), want)
	}
	if got, err := os.Readlink(g.Path()); err != nil || got != g.Device() {
		t.Errorf("link to %q (%v), device %q", got, err, g.Device())
	}
	l = mustListen(t, g.Path(), p)
	if err := g.Send(); err != nil {
		t.Fatal(err)
	}
	l.until(t, func() bool { return len(l.samples) == 1 })
}

// With nobody reading, a pseudo-terminal takes some kilobytes and then no more: the gauge must not stand still for it.
func TestNobodyReads(t *testing.T) {
	g := mustOpen(t, simulate.Options{Profile: mustProfile(t, "text-signed-decimal-cr")})
	for range 20 {
		if err := g.Raw(make([]byte, 4096)); err != nil {
			t.Fatal(err)
		}
	}
	if g.Lost() == 0 {
		t.Error("80 kB went into a port that nobody reads")
	}
}

func TestPowerCycleLosesTheZero(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-cr")
	g := mustOpen(t, simulate.Options{Profile: p})
	g.Set(mustParse(t, "2.500 mm"))
	if err := g.PowerCycle(true); err != nil {
		t.Fatal(err)
	}
	if got := g.Shown().String(); got != "0.000 mm" {
		t.Errorf("after a power cycle the display shows %s", got)
	}
	g.Set(mustParse(t, "2.600 mm"))
	if got := g.Shown().String(); got != "0.100 mm" {
		t.Errorf("0.1 mm further the display shows %s", got)
	}
}
