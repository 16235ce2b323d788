package service

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net"
	"slices"
	"time"

	"github.com/nats-io/nats.go"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// hubScreen is what a hub's pages are made of.
type hubScreen struct {
	h      *Hub
	ledger *store.Store
	nc     *nats.Conn
	pulls  *hub.Hub
	forks  *Forks
	doing  *Doings

	trouble *hubTrouble
}

// serve shows the pages until ctx ends. A taken address keeps nobody from pulling: it is told and tried again.
func (x *hubScreen) serve(ctx context.Context) error {
	m := x.h.Settings.Monitor
	for {
		b, err := monitor.NewBenches(monitor.BenchesConfig{Hub: x.h.Settings.Name, List: x.list, Owner: lineOwner, Doing: x.doings, Trouble: x.trouble.get, Open: x.open, Search: x.search, Builds: allBuilds{x.ledger, x.forks}, Histories: allHistories{x.ledger, x.forks}, LookCode: m.LookCode, Codes: m.Codes,
			Listen: m.Listen, Hosts: m.Hosts, CertFile: m.TLSCert, KeyFile: m.TLSKey, Logger: x.h.Log})
		if err != nil {
			return err
		}
		err = b.Serve(ctx, func(a net.Addr) {
			x.h.Log.Info().Str("address", a.String()).Msg("monitor")
			if x.h.Shown != nil {
				x.h.Shown(a)
			}
		})
		var op *net.OpError
		if ctx.Err() != nil || !errors.As(err, &op) || op.Op != "listen" {
			return err
		}
		b.Close()
		x.h.Log.Error().Err(err).Msg("no monitor; tried again")
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(listenAgain):
		}
	}
}

// lineOwner is the bench that a line is a history of: who may see the bench may see each.
func lineOwner(line string) string {
	name, _ := hub.BenchOf(line)
	return name
}

func (x *hubScreen) list() []monitor.BenchRow {
	var out []monitor.BenchRow
	for _, r := range x.pulls.Reports() {
		out = append(out, monitor.BenchRow{Name: r.Bench, Words: CopyWords(r), Troubles: Wrong(r, time.Now())})
	}
	return out
}

// CopyWords say how far the copy of a bench is.
func CopyWords(r hub.Report) string {
	words := fmt.Sprintf("entry %d", r.N)
	if r.Line != r.Bench {
		words += " of " + r.Line
	}
	switch {
	case !r.Linked && r.Heard > 0:
		return words + "; not linked, heard last at " + time.UnixMicro(r.Heard).Format(time.DateTime)
	case !r.Linked:
		return words + "; not linked, never heard since the hub began"
	case r.Theirs > r.N:
		return words + fmt.Sprintf(", %d to come", r.Theirs-r.N)
	}
	return words + ", all it has"
}

// ageWords say for how long something has been so.
func ageWords(d time.Duration) string {
	switch minutes := int(d.Minutes()); {
	case minutes < 1:
		return "since a moment"
	case minutes < 60:
		return fmt.Sprintf("for %d min", minutes)
	case minutes < 48*60:
		return fmt.Sprintf("for %d h", minutes/60)
	default:
		return fmt.Sprintf("for %d days", minutes/60/24)
	}
}

// Wrong lists in words what is wrong with a bench of a hub: what the hub found, and what the bench itself said when it answered
// last.
func Wrong(r hub.Report, now time.Time) []string {
	var out []string
	for _, about := range slices.Sorted(maps.Keys(r.Alarms)) {
		out = append(out, r.Alarms[about])
	}
	said := "it says"
	if !r.Linked {
		said = "it said last"
	}
	for _, t := range r.Troubles {
		out = append(out, said+", "+ageWords(now.Sub(time.UnixMicro(t.Since)))+": "+t.Words)
	}
	return out
}

// doingPatience is how long a page waits for what benches do.
const doingPatience = 2 * time.Second

// doings says what benches do that somebody may look at, and which further histories they have.
func (x *hubScreen) doings(ctx context.Context, may func(string) bool) (map[string]monitor.BenchNow, error) {
	all := slices.DeleteFunc(x.pulls.Reports(), func(r hub.Report) bool { return !may(r.Bench) })
	out := map[string]monitor.BenchNow{}
	for name, words := range x.doing.Of(ctx, all, doingPatience) {
		out[name] = monitor.BenchNow{Doing: words}
	}
	lines, err := x.ledger.Lines(ctx)
	for _, l := range lines {
		name, k := hub.BenchOf(l.Name)
		if now, listed := out[name]; listed && k > 1 {
			words := fmt.Sprintf("a %s history of this name, %s, up to entry %d", lineOrdinal(l.Name), PartedWords(ctx, x.ledger, l), l.End.N)
			now.Others = append(now.Others, monitor.OtherHistory{Name: l.Name, Words: words})
			out[name] = now
		}
	}
	return out, err
}

func (x *hubScreen) open(ctx context.Context, name string) (monitor.Config, func(), bool, error) {
	goesOn := ""
	for _, r := range x.pulls.Reports() {
		if r.Bench == lineOwner(name) {
			goesOn = r.Line
		}
	}
	if goesOn == "" {
		return monitor.Config{}, nil, false, nil
	}
	k, leave, err := x.forks.Kept(ctx, name)
	if errors.Is(err, errNoLine) {
		return monitor.Config{}, nil, false, nil
	}
	if err != nil {
		return monitor.Config{}, nil, true, err
	}
	told, err := x.told(ctx, name)
	if err != nil {
		leave()
		return monitor.Config{}, nil, true, err
	}
	ctx, cancel := context.WithCancel(ctx)
	end := func() { cancel(); leave() }
	h := &hubBench{s: k.Store, line: k.In, title: LineTitle(name), told: told, log: x.h.Log}
	h.fetch = func(ctx context.Context) error { return x.forks.Fetch(ctx, name) }
	if goesOn == name {
		h.hears, h.nc = lineOwner(name), x.nc
	}
	if err := h.open(ctx); err != nil {
		end()
		return monitor.Config{}, nil, true, err
	}
	return monitor.Config{Bench: h, Archive: archive{k.Store, k.In}, Histories: histories{s: k.Store, bench: k.In}, Sheets: newSheets(k.Store, k.In, x.witnessed(name))}, end, true, nil
}

// told says on the pages of a history what else there is of its bench, and what the bench says is wrong: a function, since it
// changes.
func (x *hubScreen) told(ctx context.Context, name string) (func() []bench.Notice, error) {
	lines, err := x.ledger.Lines(ctx)
	if err != nil {
		return nil, err
	}
	var fixed []bench.Notice
	for _, l := range lines {
		of, k := hub.BenchOf(l.Name)
		if of != lineOwner(name) || k == 1 {
			continue
		}
		words := fmt.Sprintf("bench %s has a %s history too, %s: see all benches", of, lineOrdinal(l.Name), PartedWords(ctx, x.ledger, l))
		if l.Name == name {
			words = fmt.Sprintf("this is the %s history of bench %s, %s", lineOrdinal(name), of, PartedWords(ctx, x.ledger, l))
		}
		fixed = append(fixed, bench.Notice{Source: "histories", Words: words, Stands: true})
	}
	return func() []bench.Notice {
		out := slices.Clone(fixed)
		for _, r := range x.pulls.Reports() {
			if r.Bench != lineOwner(name) || r.Line != name {
				continue
			}
			for _, t := range r.Troubles {
				out = append(out, bench.Notice{At: t.Since, Source: "bench", Words: t.Words, Stands: true})
			}
		}
		return out
	}, nil
}

// witnessed is the note that stands on a bench's sheets from here: signed by both, or none while not all of it is here.
func (x *hubScreen) witnessed(line string) func(context.Context) string {
	return func(ctx context.Context) string {
		text, err := Witnessed(ctx, x.ledger, x.h.Dir, line)
		if err != nil {
			x.h.Log.Warn().Err(err).Msg("a sheet goes without a note")
		}
		return text
	}
}

func (x *hubScreen) search(ctx context.Context, text string, may func(string) bool, most int) ([]monitor.Found, error) {
	var out []monitor.Found
	err := x.ledger.EachAcross(ctx, text, func(line string, r store.EntryRow) bool {
		if may(line) {
			out = append(out, monitor.Found{Bench: line, Title: LineTitle(line), Record: monitor.Record(r)})
		}
		return len(out) < most
	})
	return out, err
}
