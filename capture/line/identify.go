package line

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"thoud/devices"
)

// Identifier finds out how an unknown gauge speaks: it listens at the usual line settings and, only where it is allowed
// to, asks. Set the fields, then Run.
type Identifier struct {
	Open     Opener
	Profiles []devices.Profile
	// Ask allows it to write to the port: the requests of the profiles that poll.
	Ask bool
	// Each is how long it listens at one setting.
	Each time.Duration
	// Progress is told before each setting, in words.
	Progress func(done, total int, words string)
}

// Sure is how much of what was heard must lie in good frames, and how many frames, before listening ends early.
const (
	sureShare  = 0.98
	sureFrames = 3
)

// usualLines are the settings gauges use, the commonest first; those of the profiles are tried before them.
func usualLines() []devices.Line {
	l := func(baud, bits int, parity string, stop int) devices.Line {
		return devices.Line{Baud: baud, DataBits: bits, Parity: parity, StopBits: stop}
	}
	return []devices.Line{
		l(9600, 8, "none", 1), l(4800, 7, "even", 2), l(115200, 8, "none", 1), l(19200, 8, "none", 1), l(9600, 7, "even", 1),
		l(38400, 8, "none", 1), l(2400, 8, "none", 1), l(57600, 8, "none", 1), l(1200, 8, "none", 1), l(4800, 8, "none", 1), l(19200, 8, "even", 1),
	}
}

// Run listens at every setting until the guess is sure, and ranks the profiles that fit what it heard. ErrNothingHeard
// where the port stayed silent.
func (id Identifier) Run(ctx context.Context, path string) ([]devices.Guess, error) {
	lines := id.lines()
	var heard []devices.Heard
	for i, line := range lines {
		id.progress(i, len(lines), fmt.Sprintf("listening at %s", line))
		h, err := id.hear(ctx, path, line, nil)
		if err != nil {
			return nil, err
		}
		heard = append(heard, h)
		if g := devices.Rank([]devices.Heard{h}, id.Profiles); sure(g) {
			break
		}
	}
	guesses := devices.Rank(heard, id.Profiles)
	if id.Ask && !sure(guesses) {
		asked, err := id.ask(ctx, path)
		if err != nil {
			return nil, err
		}
		heard = append(heard, asked...)
		guesses = devices.Rank(heard, id.Profiles)
	}
	id.progress(len(lines), len(lines), "done")
	if len(guesses) > 0 {
		return guesses, nil
	}
	for _, h := range heard {
		if raw := devices.RawChannels(h.Bytes); len(raw) > 0 {
			return nil, fmt.Errorf("port %s: %w: a bridge sends the raw bits of %s; teach it what they mean (thoud teach %s --baud %d)", path, ErrNothingFits, rawWords(raw), path, h.Line.Baud)
		}
	}
	for _, h := range heard {
		if len(h.Bytes) > 0 {
			return nil, fmt.Errorf("port %s: %w: %d bytes came, as %q…; teach it (thoud teach)", path, ErrNothingFits, len(h.Bytes), first(h.Bytes, 24))
		}
	}
	return nil, fmt.Errorf("port %s: %w", path, ErrNothingHeard)
}

// What identify may end with.
var (
	ErrNothingHeard = errors.New("nothing was heard")
	ErrNothingFits  = errors.New("no profile fits what was heard")
)

// rawWords names the channels of a bridge.
func rawWords(list []devices.RawChannel) string {
	var words []string
	for _, c := range list {
		words = append(words, fmt.Sprintf("%s (%d bits a frame)", c.Channel, c.Count))
	}
	return strings.Join(words, " and ")
}

func first(b []byte, n int) []byte { return b[:min(n, len(b))] }

func sure(g []devices.Guess) bool {
	return len(g) > 0 && g[0].Good >= sureFrames && g[0].Bad == 0 && g[0].Covered >= sureShare
}

// lines are the settings to try: those of the profiles first, each once.
func (id Identifier) lines() []devices.Line {
	var out []devices.Line
	seen := map[string]bool{}
	add := func(l devices.Line) {
		l.DTR, l.RTS = nil, nil
		if !seen[l.String()] {
			seen[l.String()] = true
			out = append(out, l)
		}
	}
	for _, l := range usualLines()[:4] {
		add(l)
	}
	for _, p := range id.Profiles {
		add(p.Line)
	}
	for _, l := range usualLines() {
		add(l)
	}
	return out
}

// ask sends every polling profile's request at its own settings and listens to the answer.
func (id Identifier) ask(ctx context.Context, path string) ([]devices.Heard, error) {
	var out []devices.Heard
	for i, p := range id.Profiles {
		if !p.Poll.Polled() {
			continue
		}
		id.progress(i, len(id.Profiles), fmt.Sprintf("asking as %s", p.Name))
		h, err := id.hear(ctx, path, p.Line, p.Poll.Request)
		if err != nil {
			return nil, err
		}
		out = append(out, h)
	}
	return out, nil
}

func (id Identifier) progress(done, total int, words string) {
	if id.Progress != nil {
		id.Progress(done, total, words)
	}
}

// hear records one setting, with the pauses.
func (id Identifier) hear(ctx context.Context, path string, line devices.Line, request []byte) (devices.Heard, error) {
	h := devices.Heard{Line: line, Asked: request}
	port, _, err := id.Open(path, line)
	if err != nil {
		return h, err
	}
	defer port.Close()
	if request != nil {
		if _, err := port.Write(request); err != nil {
			return h, fmt.Errorf("port %s: ask: %w", path, err)
		}
	}
	buf := make([]byte, 4096)
	for end := time.Now().Add(id.Each); time.Now().Before(end) && ctx.Err() == nil; {
		n, err := port.Read(buf)
		if err != nil {
			return h, fmt.Errorf("port %s: %w (%w)", path, ErrGone, err)
		}
		h.Bytes = append(h.Bytes, buf[:n]...)
		if n == 0 && (len(h.Pauses) == 0 || h.Pauses[len(h.Pauses)-1] < len(h.Bytes)) && len(h.Bytes) > 0 {
			h.Pauses = append(h.Pauses, len(h.Bytes))
		}
	}
	return h, ctx.Err()
}
