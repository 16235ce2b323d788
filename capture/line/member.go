package line

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"thoud/capture/bench"
	"thoud/devices"
)

// member is one gauge on a line: it judges which samples are its own, and whether they can be what the gauge sent.
type member struct {
	gauge    bench.Gauge
	channels []string // that the profile names
	raw      bool     // its values are raw bits that a bridge read
	channel  string   // what a gauge without a named channel was first heard on
	puzzled  bool     // several channels speak, and it names none: nothing is taken
	places   map[string]*habit
	noise    noise
	off      bool // its bridge said that it is gone
	times    int  // how often it came back since the line was opened
}

func newMember(g bench.Gauge, p devices.Profile) *member {
	one := &member{gauge: g, channels: p.Channels(), places: map[string]*habit{}}
	if p.Bench != nil {
		_, one.raw = p.Bench.Bits[g.Channel]
		one.raw = one.raw || g.Channel == "" && len(p.Bench.Bits) > 0
	}
	return one
}

// opened is the event of the opened line for this gauge. What is attached to a bridge cannot be known from its plug: after
// each opening it counts as attached anew, so that no zero is kept that may be another gauge's.
func (one *member) opened(ev Event) Event {
	one.off, one.times = false, 0
	ev.Gauge = one.gauge.Name
	ev.Device = one.device(ev)
	return ev
}

func (one *member) device(up Event) string {
	d := up.Device
	if one.raw {
		d += fmt.Sprintf("@%d", up.At.UnixMicro())
	}
	if one.times > 0 {
		d += fmt.Sprintf("+%d", one.times)
	}
	return d
}

// speaksOn reports whether a channel is the gauge's.
func (one *member) speaksOn(channel string) bool {
	own := one.gauge.Channel
	if own == "" {
		own = one.channel
	}
	return own == channel || own == "" || channel == ""
}

// errGoneOffBridge is what a gauge is lost with that its bridge misses; errBridgeStarted where the bridge itself was off.
var (
	errGoneOffBridge = errors.New("its bridge says that it is gone: it was pulled off or switched off, or its cell is flat; attach it again, it is found by itself, and set its zero")
	errBridgeStarted = errors.New("its bridge was switched on anew, so that another gauge may be attached now: set its zero")
)

// gone loses the gauge like one whose plug was pulled.
func (one *member) gone(ev Event, up *Event) []Event {
	if up == nil || one.off || !one.speaksOn(ev.Sample.Channel) {
		return nil
	}
	one.off = true
	why := errGoneOffBridge
	if ev.Sample.Channel == "" {
		why = errBridgeStarted
	}
	return []Event{{Gauge: one.gauge.Name, At: ev.At, Kind: Down, Port: up.Port, Err: fmt.Errorf("gauge %q: %w", one.gauge.Name, why)}}
}

// sample judges a sample. A gauge that was gone is told to be there again first.
func (one *member) sample(ev Event, up *Event) []Event {
	s := &ev.Sample
	mine, told := one.own(ev)
	if !mine {
		return told
	}
	if one.off && up != nil {
		one.off = false
		one.times++
		back := *up
		back.Gauge, back.At, back.Device = one.gauge.Name, ev.At, one.device(*up)
		told = append(told, back)
	}
	if s.Unconfirmed {
		ev.Kind = Unconfirmed
	} else {
		one.noise.good()
	}
	if !s.Value.Valid() {
		return append(told, ev)
	}
	if err := s.InUnit(one.gauge.Unit); err != nil {
		return append(told, one.fault(ev, err))
	}
	if why := one.uncertainty(*s); why != "" {
		return append(told, one.fault(ev, errors.New(why)))
	}
	return append(told, ev)
}

// own reports whether a sample is the gauge's. A gauge that names no channel takes the only one there is; where the
// profile knows of several, or a second one speaks, nothing is taken, and it is told once.
func (one *member) own(ev Event) (mine bool, told []Event) {
	channel, named := ev.Sample.Channel, one.gauge.Channel
	switch {
	case named != "":
		return named == channel || channel == "", nil
	case one.puzzled:
		return false, nil
	case len(one.channels) > 1:
		one.puzzled = true
		return false, []Event{one.fault(ev, fmt.Errorf("its line carries the channels %s, and it names none of them, so nothing is taken: register a gauge for each with --channel", strings.Join(one.channels, ", ")))}
	case one.channel == "" || one.channel == channel:
		one.channel = channel
		return true, nil
	}
	one.puzzled = true
	return false, []Event{one.fault(ev, fmt.Errorf("its line carries the channels %q and %q, and it names neither, so nothing is taken: register a gauge for each with --channel", one.channel, channel))}
}

// uncertainty says why a good frame is not believed, "" where it is.
func (one *member) uncertainty(s devices.Sample) string {
	if n := one.gauge.Longest; n > 0 && len(s.Frame) > n {
		return fmt.Sprintf("frame %q has %d bytes, at most %d are possible by what was heard when it was registered: two frames that ran together, or another gauge; register it again where it is right", s.Frame, len(s.Frame), n)
	}
	h, ok := one.places[s.Value.Unit.Code]
	if !ok {
		h = &habit{}
		one.places[s.Value.Unit.Code] = h
	}
	if !h.allows(s.Value.Places) {
		return fmt.Sprintf("%s has %d decimal places, the gauge has always sent %d in %s: a frame was cut; where its resolution was changed it is taken after %d such frames", s.Value, s.Value.Places, h.usual, s.Value.Unit.Code, changedAfter)
	}
	return ""
}

// habit is how many decimal places a gauge sends in a unit.
type habit struct {
	usual  int // places
	same   int // frames in a row that had them
	fewer  int // places of the last frames that had fewer
	repeat int // how many of those came in a row
}

const (
	alwaysFrom   = 10 // frames of the same places after which a gauge "always" sends them
	changedAfter = 3  // frames in a row that show another resolution rather than a cut
)

// allows reports whether so many places can be the gauge's.
func (h *habit) allows(places int) bool {
	if places < h.usual && h.same >= alwaysFrom {
		if places != h.fewer {
			h.fewer, h.repeat = places, 0
		}
		if h.repeat++; h.repeat < changedAfter {
			return false
		}
	}
	if places != h.usual {
		h.usual, h.same = places, 0
	}
	h.same++
	h.repeat = 0
	return true
}

// noise counts the frames that were spoilt before they were sent. One now and then is nothing; many are told.
type noise struct {
	last  [noiseWindow]bool
	at    int
	count int // spoilt among the last
	told  bool
}

const (
	noiseWindow = 50
	noiseMuch   = 10 // spoilt frames of noiseWindow that are told
	noiseLittle = 5  // at which it is over
)

func (n *noise) add(spoilt bool) {
	if n.last[n.at] {
		n.count--
	}
	if n.last[n.at] = spoilt; spoilt {
		n.count++
	}
	n.at = (n.at + 1) % noiseWindow
	n.told = n.told && n.count > noiseLittle
}

func (n *noise) good() { n.add(false) }

// spoilt counts a frame of the gauge that noise has spoilt.
func (one *member) spoilt(ev Event) []Event {
	one.noise.add(true)
	out := []Event{{Gauge: one.gauge.Name, At: ev.At, Kind: Noise, Err: ev.Err}}
	if one.noise.count >= noiseMuch && !one.noise.told {
		one.noise.told = true
		out = append(out, one.fault(ev, fmt.Errorf("%d of its last %d frames were spoilt: look at its leads and its ground, and keep them away from motors; only values that two frames confirm are taken (%w)", one.noise.count, noiseWindow, ev.Err)))
	}
	return out
}

// silentAfter is how long bytes may come without a value before it is said that the profile is likely the wrong one.
const silentAfter = 5 * time.Second

// muteness notices that bytes come and no value.
type muteness struct {
	since, last time.Time // of the first and the last bytes without a value
	bytes       []byte    // the first of them
}

const mutenessShown = 24 // bytes

func (m *muteness) came(now time.Time, b []byte) {
	if m.since.IsZero() || now.Sub(m.last) > silentAfter {
		*m = muteness{since: now}
	}
	m.last = now
	if room := mutenessShown - len(m.bytes); room > 0 {
		m.bytes = append(m.bytes, b[:min(room, len(b))]...)
	}
}

func (m *muteness) valued() { *m = muteness{} }

// why says that no value came, "" while that is nothing yet. reason is what was wrong with a frame, nil where nothing was
// said.
func (m *muteness) why(profile string, reason error) error {
	d := m.last.Sub(m.since)
	if m.since.IsZero() || d < silentAfter {
		return nil
	}
	err := fmt.Errorf("for %.0f s bytes come and the profile %q reads no value from them, as %q: is it the right one? remove the gauge and let thoud identify listen, or teach it", d.Seconds(), profile, m.bytes)
	if reason != nil {
		err = fmt.Errorf("%w (%v)", err, reason) // told as a fault even where the frame was noise
	}
	return err
}
