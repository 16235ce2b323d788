// Package simulate makes gauges out of pseudo-terminals: bytes go over a real port of the operating system, so that
// the whole line from the port to the ledger runs without hardware. A gauge speaks by its profile, shows what it is
// told, and has the faults of real ones: noise, backlash, drift, drop-outs, garbage, split and merged writes, a plug
// that comes out and goes back under another name, a power cycle that loses the zero. A pseudo-terminal knows no baud
// rate and no parity: a wrong line setting cannot be simulated.
package simulate

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"thoud/calc/quantity"
	"thoud/devices"
)

// ErrUnplugged is returned for a gauge whose plug is out.
var ErrUnplugged = errors.New("unplugged")

// Options say which gauge to make. The zero knobs make a perfect gauge.
type Options struct {
	Profile    devices.Profile
	Channel    string         // the channel its readings carry, "" for none
	Channels   []string       // for several channels; nil for the profile's own where one frame carries them all
	Dir        string         // where the stable link is made
	Name       string         // the link's name
	Resolution quantity.Value // one count; the profile's, else 0.001 mm
	Knobs      Knobs
	Seed       uint64 // of the faults' chances: the same seed gives the same faults
}

// Gauge is one simulated gauge. Its methods may be called from several goroutines.
type Gauge struct {
	o        Options
	channels []string

	mu      sync.Mutex
	term    *terminal // nil while unplugged
	link    string
	asked   []byte // what came in since the last request
	lost    int    // bytes nobody read
	sent    int    // values that were asked of the display
	models  map[string]*model
	held    []byte // a frame waiting to go out with the next
	chance  *rand.Rand
	stop    chan struct{} // of the running stream
	streams sync.WaitGroup
	status  devices.Status
	failed  error // what went wrong where nobody was there to be told
}

// Open makes the pseudo-terminal and the link Dir/Name to it.
func Open(o Options) (*Gauge, error) {
	if o.Name == "" || o.Dir == "" {
		return nil, errors.New("simulate: a gauge needs a folder and a name for its link")
	}
	if err := o.Profile.Validate(); err != nil {
		return nil, fmt.Errorf("simulate %q: profile %q: %w", o.Name, o.Profile.Name, err)
	}
	if !o.Resolution.Valid() {
		o.Resolution = o.Profile.Resolution
	}
	if !o.Resolution.Valid() {
		o.Resolution = quantity.OfLength(quantity.PerMicrometre, quantity.Base(quantity.Length), 3)
	}
	g := &Gauge{o: o, channels: o.Channels, chance: rand.New(rand.NewPCG(o.Seed, 1)), models: map[string]*model{}}
	if len(g.channels) == 0 && o.Channel == "" && o.Profile.Together() {
		g.channels = o.Profile.Channels()
	}
	if len(g.channels) == 0 {
		g.channels = []string{o.Channel}
	}
	for i, c := range g.channels {
		g.models[c] = newModel(o, uint64(i))
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if err := g.plug(o.Name); err != nil {
		return nil, err
	}
	return g, nil
}

// Path is the stable link; Device the pseudo-terminal itself, "" while unplugged.
func (g *Gauge) Path() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.link
}

// Device is the pseudo-terminal's own name, "" while unplugged.
func (g *Gauge) Device() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.term == nil {
		return ""
	}
	return g.term.slave.Name()
}

// Set moves the gauge, or its first channel: what a perfect one would show from now on.
func (g *Gauge) Set(v quantity.Value) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.models[g.channels[0]].set(v)
}

// SetChannel is Set for one channel; it fails for one that the gauge has not.
func (g *Gauge) SetChannel(channel string, v quantity.Value) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	m, ok := g.models[channel]
	if !ok {
		return fmt.Errorf("simulate %q: no channel %q, it has %q", g.o.Name, channel, g.channels)
	}
	m.set(v)
	return nil
}

// SetStatus sets what the gauge says about itself in its next frames.
func (g *Gauge) SetStatus(s devices.Status) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.status = s
}

// Shown is what the display of the first channel reads now, with its faults and in its counts. Each look takes new
// noise.
func (g *Gauge) Shown() quantity.Value {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.models[g.channels[0]].show()
}

// Send presses the data key: the present value of each channel goes out, in one frame or one after the other as the
// profile says. Frames that the knobs drop or spoil are no error. It fails with ErrUnplugged while the plug is out.
func (g *Gauge) Send() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.send()
}

func (g *Gauge) send() error {
	g.sent++
	var all []devices.Sample
	for _, c := range g.channels {
		s := devices.Sample{Channel: c, Status: g.status}
		if m := g.models[c]; s.Status&(devices.Overload|devices.Fault) == 0 {
			s.Value = m.show()
			m.drift += m.knobs.Drift
		}
		all = append(all, s)
	}
	for len(all) > 0 {
		n := 1
		if g.o.Profile.Together() {
			n = len(all)
		}
		b, err := g.o.Profile.Encode(all[:n]...)
		if err != nil {
			return fmt.Errorf("simulate %q: %w", g.o.Name, err)
		}
		if err := g.faulty(b); err != nil {
			return err
		}
		all = all[n:]
	}
	return nil
}

// Key presses a key or pedal. It fails where the profile's family has no keys.
func (g *Gauge) Key(name string) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if !g.o.Profile.SendsKeys() {
		return fmt.Errorf("simulate %q: key %q: a gauge of the family %s sends no keys", g.o.Name, name, g.o.Profile.Family)
	}
	b, err := g.o.Profile.Encode(devices.Sample{Key: name})
	if err != nil {
		return fmt.Errorf("simulate %q: %w", g.o.Name, err)
	}
	return g.faulty(b)
}

// Raw sends bytes as they are, without the knobs' faults.
func (g *Gauge) Raw(b []byte) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.write(b)
}

func (g *Gauge) write(b []byte) error {
	if g.term == nil {
		return fmt.Errorf("simulate %q: %w", g.o.Name, ErrUnplugged)
	}
	lost, err := g.term.write(b)
	g.lost += lost
	if err != nil {
		return fmt.Errorf("simulate %q: %w", g.o.Name, err)
	}
	return nil
}

// Lost is how many bytes went nowhere because nobody read them.
func (g *Gauge) Lost() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.lost
}

// Sent is how often the gauge has sent, or was asked for, what it shows: after Set the next one is of the new place.
func (g *Gauge) Sent() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.sent
}

// Unread is how many bytes went out that nobody has read yet; it fails with ErrUnplugged while the plug is out.
func (g *Gauge) Unread() (int, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.term == nil {
		return 0, fmt.Errorf("simulate %q: %w", g.o.Name, ErrUnplugged)
	}
	return g.term.waiting()
}

// Stream pushes a frame at each interval until Stop, Unplug or Close; a running stream is replaced.
func (g *Gauge) Stream(every time.Duration) {
	g.Stop()
	stop := make(chan struct{})
	g.mu.Lock()
	g.stop = stop
	g.streams.Add(1)
	g.mu.Unlock()
	go func() {
		defer g.streams.Done()
		tick := time.NewTicker(every)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				if err := g.Send(); err != nil {
					g.mu.Lock()
					g.failure(err)
					g.mu.Unlock()
					return
				}
			}
		}
	}()
}

// Stop ends the stream and waits for it.
func (g *Gauge) Stop() {
	g.mu.Lock()
	if g.stop != nil {
		close(g.stop)
		g.stop = nil
	}
	g.mu.Unlock()
	g.streams.Wait()
}

// Close ends the gauge and removes its link. It returns as well what went wrong in a stream or in an answer, as a value
// that the profile cannot send.
func (g *Gauge) Close() error {
	err := g.Unplug()
	g.mu.Lock()
	defer g.mu.Unlock()
	return errors.Join(err, g.failed)
}

// failure keeps an error for Close; a plug that came out is none. The lock is held.
func (g *Gauge) failure(err error) {
	if g.failed == nil && !errors.Is(err, ErrUnplugged) {
		g.failed = err
	}
}

// heard answers the requests of a polled gauge.
func (g *Gauge) heard(b []byte) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.asked = append(g.asked, b...)
	for {
		n := g.o.Profile.Asked(g.asked)
		if n == 0 {
			break
		}
		g.asked = g.asked[n:]
		if err := g.send(); err != nil {
			g.failure(err)
			return
		}
	}
	if len(g.asked) > 512 {
		g.asked = nil
	}
}

// at is where a channel's display stands, in counts.
func (g *Gauge) at(channel string) float64 {
	g.mu.Lock()
	defer g.mu.Unlock()
	if m, ok := g.models[channel]; ok {
		return m.follows
	}
	return 0
}

// moveTo moves a channel a part of the way from some counts to a value.
func (g *Gauge) moveTo(channel string, from float64, to quantity.Value, part float64) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	m, ok := g.models[channel]
	if !ok {
		return fmt.Errorf("simulate %q: no channel %q, it has %q", g.o.Name, channel, g.channels)
	}
	m.showAs(to)
	m.stand(from + (m.counts(to)-from)*part)
	return nil
}
