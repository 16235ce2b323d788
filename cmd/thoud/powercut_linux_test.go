package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/store"
)

// A power cut is made from what was really written: the service runs under strace, which logs every write, sync, rename
// and removal it issues. Cutting that log between any two calls, and leaving away of what was written since a file's last
// sync all, nothing or some, gives what the disk may hold after the power is gone at that moment. Killing a process does
// not: the system still writes what it was given.

// powerCuts is how many cuts are tried; the long checks try every one that matters.
func powerCuts() int {
	if os.Getenv("THOUD_LONG") != "" {
		return 200
	}
	return 24
}

// cutDisk is what a set of files holds, as seen by who reads them (now) and as it lies on the disk for certain (safe).
type cutDisk struct {
	now, safe map[string][]byte
	pending   map[string][]func([]byte) []byte // written since the file's last sync, in order
}

func newCutDisk() *cutDisk {
	return &cutDisk{now: map[string][]byte{}, safe: map[string][]byte{}, pending: map[string][]func([]byte) []byte{}}
}

func (d *cutDisk) write(path string, at int64, b []byte) {
	b = bytes.Clone(b)
	d.apply(path, func(f []byte) []byte {
		if need := int(at) + len(b); need > len(f) {
			f = append(f, make([]byte, need-len(f))...)
		}
		copy(f[at:], b)
		return f
	})
}

func (d *cutDisk) truncate(path string, size int64) {
	d.apply(path, func(f []byte) []byte {
		if int(size) <= len(f) {
			return f[:size]
		}
		return append(f, make([]byte, int(size)-len(f))...)
	})
}

func (d *cutDisk) apply(path string, change func([]byte) []byte) {
	d.now[path] = change(bytes.Clone(d.now[path]))
	d.pending[path] = append(d.pending[path], change)
}

func (d *cutDisk) sync(path string) {
	if f, ok := d.now[path]; ok {
		d.safe[path] = bytes.Clone(f)
		delete(d.pending, path)
	}
}

func (d *cutDisk) rename(from, to string) {
	d.now[to], d.safe[to], d.pending[to] = d.now[from], d.safe[from], d.pending[from]
	d.remove(from)
}

func (d *cutDisk) remove(path string) {
	delete(d.now, path)
	delete(d.safe, path)
	delete(d.pending, path)
}

// after is what lies on the disk after a cut: of each file that a name matches, what was synced, and of what was written
// since, each write with this chance, a torn one too; of all others everything.
func (d *cutDisk) after(cut func(path string) bool, survives float64, chance *rand.Rand) map[string][]byte {
	out := map[string][]byte{}
	for path := range d.now {
		if !cut(path) {
			out[path] = d.now[path]
			continue
		}
		f, known := d.safe[path]
		if !known && survives == 0 {
			continue // its name was never synced either
		}
		f = bytes.Clone(f)
		for _, change := range d.pending[path] {
			if chance.Float64() < survives {
				f = change(f)
			}
		}
		out[path] = f
	}
	return out
}

// traced is one call of the log.
type traced struct {
	apply func(*cutDisk)
	told  uint64 // number of the entry that a client was told of as stored
	syncs bool
}

var (
	tracedCall = regexp.MustCompile(`^\d+ +(\w+)\((.*)$`)
	resumed    = regexp.MustCompile(`^(\d+) +<\.\.\. (\w+) resumed>(.*)$`)
	onFile     = regexp.MustCompile(`^(\d+)<((?:\\x[0-9a-f]{2})+)>`)
	hexText    = regexp.MustCompile(`"((?:\\x[0-9a-f]{2})*)"`)
	outcomeN   = regexp.MustCompile(`thoud\.bench\.result\.[^ ]+ \d+ \d+\r\n\{"n":(\d+)`)
)

func unhex(tb testing.TB, text string) []byte {
	tb.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(text, `\x`, ""))
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// readTrace reads a log of strace. A call counts from where it ends: only then may somebody rely on it. offsets follows
// the files that are written without saying where.
func readTrace(tb testing.TB, path, root string) []traced {
	tb.Helper()
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	begun := map[string]string{} // by thread: a call that another thread interrupted in the log
	offsets := map[string]int64{}
	direct := map[string]bool{} // opened so that each write is synced
	var out []traced
	lines := bufio.NewReaderSize(f, 1<<20)
	for {
		line, err := lines.ReadString('\n')
		if line == "" && err != nil {
			return out
		}
		line = strings.TrimSuffix(line, "\n")
		pid, _, _ := strings.Cut(line, " ")
		if before, _, cut := strings.Cut(line, " <unfinished ...>"); cut {
			begun[pid] = before
			continue
		}
		if m := resumed.FindStringSubmatch(line); m != nil {
			line = begun[m[1]] + m[3]
		}
		m := tracedCall.FindStringSubmatch(line)
		if m == nil || strings.Contains(line, " = -1 ") {
			continue
		}
		if t, ok := parseCall(tb, m[1], m[2], root, offsets, direct); ok {
			out = append(out, t)
		}
	}
}

func parseCall(tb testing.TB, name, args, root string, offsets map[string]int64, direct map[string]bool) (traced, bool) {
	tb.Helper()
	texts := hexText.FindAllStringSubmatch(args, -1)
	text := func(i int) string { return string(unhex(tb, texts[i][1])) }
	file, fd := "", ""
	if m := onFile.FindStringSubmatch(args); m != nil {
		fd, file = m[1], string(unhex(tb, m[2]))
	}
	mine := strings.HasPrefix(file, root+"/")
	result := args[strings.LastIndex(args, "= ")+2:]
	switch name {
	case "openat":
		m := regexp.MustCompile(`= (\d+)`).FindStringSubmatch(args)
		path := text(0)
		if m == nil || !strings.HasPrefix(path, root+"/") {
			return traced{}, false
		}
		offsets[m[1]] = 0
		direct[m[1]] = strings.Contains(args, "O_SYNC") || strings.Contains(args, "O_DSYNC")
		if strings.Contains(args, "O_TRUNC") {
			return traced{apply: func(d *cutDisk) { d.truncate(path, 0) }}, true
		}
		if strings.Contains(args, "O_CREAT") {
			return traced{apply: func(d *cutDisk) {
				if _, there := d.now[path]; !there {
					d.now[path] = nil
				}
			}}, true
		}
	case "lseek":
		if n, err := strconv.ParseInt(strings.Fields(result)[0], 10, 64); err == nil {
			offsets[fd] = n
		}
	case "write", "pwrite64":
		if len(texts) == 0 {
			return traced{}, false
		}
		b := unhex(tb, texts[0][1])
		if !mine {
			if m := outcomeN.FindSubmatch(b); m != nil {
				n, err := strconv.ParseUint(string(m[1]), 10, 64)
				if err != nil {
					tb.Fatal(err)
				}
				return traced{told: n, apply: func(*cutDisk) {}}, true
			}
			return traced{}, false
		}
		at := offsets[fd]
		if name == "pwrite64" {
			parts := strings.Split(strings.TrimSuffix(strings.TrimSpace(args[:strings.LastIndex(args, "=")]), ")"), ", ")
			var err error
			if at, err = strconv.ParseInt(parts[len(parts)-1], 10, 64); err != nil {
				tb.Fatalf("where does this write to? %.200s", args)
			}
		} else {
			offsets[fd] += int64(len(b))
		}
		synced := direct[fd]
		return traced{apply: func(d *cutDisk) {
			d.write(file, at, b)
			if synced {
				d.sync(file)
			}
		}}, true
	case "fsync", "fdatasync":
		return traced{syncs: true, apply: func(d *cutDisk) { d.sync(file) }}, mine
	case "ftruncate":
		parts := strings.Split(args, ", ")
		n, err := strconv.ParseInt(strings.TrimSpace(strings.Split(parts[1], ")")[0]), 10, 64)
		if err != nil {
			tb.Fatalf("%.100s: %v", args, err)
		}
		return traced{apply: func(d *cutDisk) { d.truncate(file, n) }}, mine
	case "rename", "renameat", "renameat2":
		from, to := text(0), text(1)
		return traced{apply: func(d *cutDisk) { d.rename(from, to) }}, strings.HasPrefix(from, root+"/")
	case "unlink", "unlinkat":
		path := text(0)
		return traced{apply: func(d *cutDisk) { d.remove(path) }}, strings.HasPrefix(path, root+"/")
	case "writev", "pwritev", "pwritev2", "sync_file_range", "msync":
		if mine && !strings.HasSuffix(file, "-shm") {
			tb.Fatalf("a call that this harness does not follow: %s %.200s", name, args)
		}
	}
	return traced{}, false
}

// recordTrace lets a service under strace take readings, and gives its log.
func recordTrace(t *testing.T, dir, log string, readings int) {
	t.Helper()
	cmd := exec.Command("strace", "-f", "-y", "-xx", "-s", "4194304", "-o", log,
		"-e", "trace=openat,write,pwrite64,writev,pwritev,pwritev2,fsync,fdatasync,sync_file_range,msync,ftruncate,rename,renameat,renameat2,unlink,unlinkat,lseek",
		"thoud", "run", "--listen=", "--state", dir)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // killed alone, strace would leave the service running
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
		_ = cmd.Wait() // killed
	}()
	v := &served{tb: t, dir: dir}
	v.eventually("the service runs", func() bool {
		c, err := bus.Dial(filepath.Join(dir, service.SocketName), "bench")
		if err != nil {
			return false
		}
		if _, err := c.Status(context.Background()); err != nil {
			c.Close()
			return false
		}
		v.Client = c
		return true
	})
	defer v.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go func() { _ = v.Follow(ctx, func(bench.Outcome) {}, nil, nil) }() // somebody who is told
	time.Sleep(200 * time.Millisecond)
	v.begin()
	v.read(readings)
	v.settled(v.status().N)
}

// TestPowerCuts cuts the power between any two calls, for ledger and stream together and apart, and starts the service on
// what is left: nothing that was told as taken is lost, and the ledger is whole.
func TestPowerCuts(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("strace is not installed")
		}
		t.Skip("not run: strace is not installed")
	}
	root := filepath.Join(t.TempDir(), "state")
	log := filepath.Join(t.TempDir(), "calls")
	recordTrace(t, root, log, 24)
	calls := readTrace(t, log, root)
	var at []int // cuts: after each call once readings are told
	var told uint64
	syncs := 0
	for i, c := range calls {
		told = max(told, c.told)
		if told > 0 {
			at = append(at, i+1)
		}
		if c.syncs {
			syncs++
		}
	}
	if told < 24 || len(at) < 200 || syncs < 48 {
		t.Fatalf("the log has %d calls and %d syncs, the client was told up to entry %d: too few to mean anything", len(calls), syncs, told)
	}
	seed := rand.Uint64()
	t.Logf("%d calls, %d syncs, told up to entry %d, seed %d", len(calls), syncs, told, seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	inLedger := func(path string) bool { return strings.HasPrefix(filepath.Base(path), "ledger") }
	inStream := func(path string) bool { return strings.Contains(path, "/"+service.BusFolder+"/") }
	all := func(string) bool { return true }
	lots := []struct {
		name     string
		cut      func(string) bool
		survives float64
	}{
		{"both, nothing unsynced survives", all, 0}, {"both, some survives", all, 0.5},
		{"ledger alone, nothing unsynced survives", inLedger, 0}, {"ledger alone, some survives", inLedger, 0.5},
		{"stream alone, nothing unsynced survives", inStream, 0}, {"stream alone, some survives", inStream, 0.5},
	}
	counts := map[string]int{}
	for i := range powerCuts() {
		lot := lots[i%len(lots)]
		k := at[chance.IntN(len(at))]
		if cutOnce(t, calls[:k], root, lot.cut, lot.survives, chance) {
			counts[lot.name]++
		} else {
			t.Errorf("cut after call %d of %d: %s", k, len(calls), lot.name)
		}
	}
	// A service that synced nothing would lose what it told: the harness sees it.
	var unsynced []traced
	for _, c := range calls {
		if !c.syncs {
			unsynced = append(unsynced, c)
		}
	}
	if n, told := afterCut(t, unsynced, root, all, 0, chance); n >= told {
		t.Errorf("without any sync the ledger ends with entry %d of %d told: the harness cannot see a loss", n, told)
	}
	for _, name := range slices.Sorted(maps.Keys(counts)) {
		t.Logf("%s: %d cuts, nothing lost", name, counts[name])
	}
}

// cutOnce reports whether after a cut every entry that was told is there and the ledger whole.
func cutOnce(t *testing.T, calls []traced, root string, cut func(string) bool, survives float64, chance *rand.Rand) bool {
	t.Helper()
	n, told := afterCut(t, calls, root, cut, survives, chance)
	if n < told {
		t.Errorf("told up to entry %d, the ledger ends with %d", told, n)
	}
	return n >= told
}

// afterCut lays out what the disk holds after some calls and a cut, starts the service on it, and gives the number of the
// ledger's last entry, and of the last one that was told. The ledger must be whole in any case.
func afterCut(t *testing.T, calls []traced, root string, cut func(string) bool, survives float64, chance *rand.Rand) (n, told uint64) {
	t.Helper()
	d := newCutDisk()
	for _, c := range calls {
		c.apply(d)
		told = max(told, c.told)
	}
	dir := t.TempDir()
	for path, content := range d.after(cut, survives, chance) {
		to := filepath.Join(dir, strings.TrimPrefix(path, root))
		if strings.HasSuffix(to, "-shm") || strings.HasSuffix(to, service.SocketName) {
			continue
		}
		if err := errors.Join(os.MkdirAll(filepath.Dir(to), 0o750), os.WriteFile(to, content, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	v := serve(t, dir)
	n = v.status().N
	v.stop()
	ctx := context.Background()
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	rep, err := s.Verify(ctx, "bench", service.Check())
	if err != nil || len(rep.Wrong) > 0 {
		t.Errorf("wrong %v, %v", rep.Wrong, err)
	}
	return n, told
}
