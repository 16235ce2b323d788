package bus_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const benchName = "test"

// MustStart starts a server on a folder and stops it at the end of the test.
func MustStart(tb testing.TB, cfg bus.Config) *bus.Server {
	tb.Helper()
	if cfg.Log = zerolog.Nop(); cfg.Bench == "" {
		cfg.Bench = benchName
	}
	s, err := bus.Start(context.Background(), cfg)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(s.Close)
	return s
}

// entry makes an entry of some size; the bus looks at its id and kind only.
func entry(n, size int) (bench.Entry, []byte) {
	e := bench.Entry{N: uint64(n), ID: fmt.Sprintf("id-%06d", n), Kind: bench.ReadingTaken}
	body := fmt.Appendf(nil, "%d ", n)
	return e, append(body, make([]byte, max(0, size-len(body)))...)
}

// insist appends the same entry until it is safe, as the bench does.
func insist(tb testing.TB, s *bus.Server, e bench.Entry, body []byte) {
	tb.Helper()
	var err error
	for range 40 {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		err = s.Append(ctx, e, body)
		cancel()
		if err == nil {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	tb.Fatalf("entry %d: %v", e.N, err)
}

// numbers reads the messages there are after a position and gives what each begins with.
func numbers(tb testing.TB, s *bus.Server, at pipeline.Position) []int {
	tb.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	f, err := s.Feed(ctx, at, true)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	var out []int
	for {
		m, err := f.Next(ctx)
		if errors.Is(err, pipeline.ErrDry) {
			return out
		}
		if err != nil {
			tb.Fatal(err)
		}
		n := 0
		if _, err := fmt.Sscan(string(m.Body), &n); err != nil {
			tb.Fatal(err)
		}
		out = append(out, n)
	}
}

// inOrder checks that there are the numbers from first to last, each once.
func inOrder(tb testing.TB, got []int, first, last int) {
	tb.Helper()
	if len(got) != last-first+1 {
		tb.Fatalf("%d messages, want %d to %d", len(got), first, last)
	}
	for i, n := range got {
		if n != first+i {
			tb.Fatalf("message %d is entry %d, want %d", i, n, first+i)
		}
	}
}

// The embedded server is restarted while entries flow: the feed goes on where it was, nothing is lost, nothing comes
// twice, and an entry appended again under its id is kept once.
func TestARestartInMidFlow(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
	defer cancel()
	f, err := s.Feed(ctx, pipeline.Position{}, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	const last = 60
	appended := make(chan struct{})
	go func() {
		defer close(appended)
		for n := 1; n <= last; n++ {
			e, body := entry(n, 200)
			insist(t, s, e, body)
			insist(t, s, e, body)
			if n%20 == 10 {
				if err := s.Restart(); err != nil {
					t.Error(err)
				}
			}
		}
	}()
	var got []int
	for len(got) < last {
		m, err := f.Next(ctx)
		if err != nil {
			t.Fatalf("after %d messages: %v", len(got), err)
		}
		n := 0
		if _, err := fmt.Sscan(string(m.Body), &n); err != nil {
			t.Fatal(err)
		}
		got = append(got, n)
	}
	<-appended
	inOrder(t, got, 1, last)
	inOrder(t, numbers(t, s, pipeline.Position{}), 1, last)
}

// On a full disk an entry is refused as such, again and again without a long wait, and goes in once there is room;
// nothing that was acknowledged is lost.
func TestAFullDiskAndRoomAgain(t *testing.T) {
	t.Run("to the last byte", func(t *testing.T) { fullDisk(t, 0) })
	// Here the entry does not fit although there is more free than anyone would call full.
	t.Run("but for 1.5 MB", func(t *testing.T) { fullDisk(t, 1500<<10) })
}

func fullDisk(t *testing.T, left int64) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=32m"); err != nil {
		t.Logf("not run: no file system of limited size can be mounted here (%v)", err)
		return
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	s := MustStart(t, bus.Config{Dir: filepath.Join(dir, "bus")})
	for n := 1; n <= 10; n++ {
		e, body := entry(n, 1000)
		insist(t, s, e, body)
	}
	ballast := filepath.Join(dir, "ballast")
	fill(t, ballast)
	if left > 0 {
		st, err := os.Stat(ballast)
		if err == nil {
			err = os.Truncate(ballast, st.Size()-left)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	n := 10
	var err error
	for err == nil {
		n++
		if n > 1000 {
			t.Fatal("the disk never filled")
		}
		e, body := entry(n, 900_000)
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		err = s.Append(ctx, e, body)
		cancel()
	}
	if !errors.Is(err, bus.ErrFull) {
		t.Fatalf("entry %d: %v, want ErrFull", n, err)
	}
	e, body := entry(n, 900_000)
	if err := s.Append(context.Background(), e, body); !errors.Is(err, bus.ErrFull) {
		t.Errorf("again, still full: %v, want ErrFull", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	insist(t, s, e, body)
	for range 5 {
		n++
		e, body := entry(n, 1000)
		insist(t, s, e, body)
	}
	inOrder(t, numbers(t, s, pipeline.Position{}), 1, n)
}

// fill writes a file until the disk is full.
func fill(tb testing.TB, path string) {
	tb.Helper()
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	chunk := make([]byte, 64<<10)
	for {
		if _, err := f.Write(chunk); err != nil {
			if !errors.Is(err, syscall.ENOSPC) {
				tb.Fatal(err)
			}
			if len(chunk) == 1 {
				return
			}
			chunk = make([]byte, len(chunk)/2)
		}
	}
}

// A server started with less room than the stream was made for still has the stream and all that is in it.
func TestLessRoomThanTheStreamWasMadeFor(t *testing.T) {
	dir := t.TempDir()
	s, err := bus.Start(context.Background(), bus.Config{Bench: benchName, Dir: dir, Log: zerolog.Nop(), MaxBytes: 256 << 20})
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= 5; n++ {
		e, body := entry(n, 200)
		insist(t, s, e, body)
	}
	f, err := s.Feed(context.Background(), pipeline.Position{}, true)
	if err != nil {
		t.Fatal(err)
	}
	generation := f.Generation()
	s.Close()
	s = MustStart(t, bus.Config{Dir: dir, MaxBytes: 4 << 20})
	inOrder(t, numbers(t, s, pipeline.Position{}), 1, 5)
	inOrder(t, numbers(t, s, pipeline.Position{Generation: generation, Seq: 3}), 4, 5)
}

// A stream that has reached its size forgets what was recorded, oldest first, and never what was not.
func TestAFullStreamForgetsWhatIsRecorded(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir(), MaxBytes: 4 << 20})
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	f, err := s.Feed(ctx, pipeline.Position{}, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	// Nothing is recorded yet: the stream fills and refuses.
	n, full := 0, error(nil)
	for full == nil {
		n++
		e, body := entry(n, 200_000)
		full = s.Append(ctx, e, body)
		if n > 100 {
			t.Fatal("the stream never filled")
		}
	}
	if !errors.Is(full, bus.ErrFull) {
		t.Fatalf("entry %d: %v, want ErrFull", n, full)
	}
	inOrder(t, numbers(t, s, pipeline.Position{}), 1, n-1)
	// The recorder catches up: asking for the next message says that the one before is recorded.
	for want := 1; want <= 10; want++ {
		if _, err := f.Next(ctx); err != nil {
			t.Fatal(err)
		}
	}
	e, body := entry(n, 200_000)
	insist(t, s, e, body)
	left := numbers(t, s, pipeline.Position{})
	if left[0] > 10 {
		t.Errorf("the stream begins at %d, 10 and later were not recorded", left[0])
	}
	inOrder(t, left, left[0], n)
}

// A folder that was deleted gives another stream, and so another generation: it is read from its start.
func TestADeletedFolderIsAnotherStream(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bus")
	s, err := bus.Start(context.Background(), bus.Config{Bench: benchName, Dir: dir, Log: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= 5; n++ {
		e, body := entry(n, 200)
		insist(t, s, e, body)
	}
	f, err := s.Feed(context.Background(), pipeline.Position{}, true)
	if err != nil {
		t.Fatal(err)
	}
	at := pipeline.Position{Generation: f.Generation(), Seq: 5}
	s.Close()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	s = MustStart(t, bus.Config{Dir: dir})
	e, body := entry(6, 200)
	insist(t, s, e, body)
	inOrder(t, numbers(t, s, at), 6, 6)
}
