package main

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/devices/simulate"
	"thoud/pipeline/bus"
	"thoud/store"
)

// TestMain lets this test binary be the thoud of the scripts: each command of a script is a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"thoud": main, "cluster-server": clusterServerMain, "nats-server": natsServerMain})
}

// TestScripts runs the scripts in testdata/script against the whole program: real processes, real pseudo-terminals.
//
//	gauge plug NAME PROFILE       a simulated gauge whose link is $WORK/NAME; it streams
//	gauge show NAME VALUE         it moves, and the service of $STATE_DIRECTORY has seen it there
//	gauge say NAME TEXT           these bytes go out as they are; \r and \n as in Go
//	gauge unplug|replug NAME
//	hold [--release] NAME         another program locks the port, or lets it go
//	until REGEXP COMMAND...       runs the command until its output matches
//	ledger KIND=COUNT...          the ledger's seals and results hold, and it has so many entries of a kind
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"),
		Setup: func(e *testscript.Env) error {
			e.Setenv("STATE_DIRECTORY", filepath.Join(e.WorkDir, "state"))
			e.Setenv("HOME", e.WorkDir)
			e.Values[drawerKey{}] = map[string]*simulate.Gauge{}
			e.Values[holdKey{}] = map[string]*os.File{}
			return nil
		},
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"gauge": cmdGauge, "hold": cmdHold, "until": cmdUntil, "ledger": cmdLedger},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

// drawerKey finds the simulated gauges of a script.
type drawerKey struct{}

const (
	sendEvery = 20 * time.Millisecond
	patience  = 20 * time.Second // far more than anything here takes
)

func cmdGauge(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: gauge plug|show|say|unplug|replug NAME ...")
	}
	drawer := ts.Value(drawerKey{}).(map[string]*simulate.Gauge)
	name := args[1]
	if args[0] == "plug" {
		profiles, err := service.LoadProfiles("")
		ts.Check(err)
		g, err := simulate.Open(simulate.Options{Profile: profiles[args[2]], Dir: ts.Getenv("WORK"), Name: name})
		ts.Check(err)
		drawer[name] = g
		ts.Defer(func() { ts.Check(g.Close()) })
		g.Stream(sendEvery)
		return
	}
	g, ok := drawer[name]
	if !ok {
		ts.Fatalf("no gauge %q", name)
	}
	switch args[0] {
	case "show":
		v, err := quantity.Parse(strings.Join(args[2:], " "))
		ts.Check(err)
		g.Set(v)
		ts.Check(seenAt(ts.Getenv("STATE_DIRECTORY"), name, v))
	case "say":
		text, err := strconv.Unquote(`"` + args[2] + `"`)
		ts.Check(err)
		ts.Check(g.Raw([]byte(text)))
	case "unplug":
		ts.Check(g.Unplug())
	case "replug":
		ts.Check(g.Replug(""))
		g.Stream(sendEvery)
	default:
		ts.Fatalf("gauge %s: no such thing", args[0])
	}
}

// seenAt waits until the service of a state folder shows a gauge at a value.
func seenAt(state, name string, want quantity.Value) error {
	c, err := bus.Dial(filepath.Join(state, service.SocketName), service.DefaultSettings().Bench)
	if err != nil {
		return err
	}
	defer c.Close()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		st, err := c.Status(context.Background())
		if err != nil {
			return err
		}
		for _, g := range st.Gauges {
			if g.Name == name && g.Open && g.Raw.Valid() && g.Raw.N == want.N {
				return nil
			}
		}
	}
	return errors.New("the service does not see " + name + " at " + want.String())
}

// holdKey finds the ports that "another program" holds in a script.
type holdKey struct{}

// cmdHold locks a port the way another program would that respects locks.
func cmdHold(ts *testscript.TestScript, neg bool, args []string) {
	held := ts.Value(holdKey{}).(map[string]*os.File)
	name := args[len(args)-1]
	if f, ok := held[name]; ok {
		ts.Check(f.Close())
		return
	}
	f, err := os.OpenFile(ts.MkAbs(name), os.O_RDONLY|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	ts.Check(err)
	held[name] = f
	ts.Check(syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB))
}

// cmdUntil runs a command again and again, outside the script's log, which would drown in it.
func cmdUntil(ts *testscript.TestScript, neg bool, args []string) {
	re, err := regexp.Compile(args[0])
	ts.Check(err)
	var last []byte
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		cmd := exec.Command(args[1], args[2:]...)
		cmd.Dir, cmd.Env = ts.Getenv("WORK"), append(os.Environ(), "STATE_DIRECTORY="+ts.Getenv("STATE_DIRECTORY"))
		last, _ = cmd.CombinedOutput() // a failure is only one more output that does not match
		if re.Match(last) != neg {
			return
		}
	}
	ts.Fatalf("%v: never as wanted (%q); last:\n%s", args[1:], args[0], last)
}

func cmdLedger(ts *testscript.TestScript, neg bool, args []string) {
	ctx := context.Background()
	s, err := store.OpenReadOnly(ctx, filepath.Join(ts.Getenv("STATE_DIRECTORY"), service.LedgerName))
	ts.Check(err)
	defer s.Close()
	name, err := s.Bench(ctx)
	ts.Check(err)
	rep, err := s.Verify(ctx, name, service.Check())
	ts.Check(err)
	if len(rep.Wrong) > 0 {
		ts.Fatalf("ledger: %v", rep.Wrong)
	}
	counts := map[bench.Kind]int{}
	ts.Check(s.EachEntry(ctx, name, store.Filter{}, func(r store.EntryRow) bool { counts[r.Entry.Kind]++; return true }))
	for _, a := range args {
		kind, n, _ := strings.Cut(a, "=")
		want, err := strconv.Atoi(n)
		ts.Check(err)
		if got := counts[bench.Kind(kind)]; got != want {
			ts.Fatalf("ledger has %d entries of kind %s, want %d: %v", got, kind, want, counts)
		}
	}
}
