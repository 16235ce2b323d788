package monitor

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"slices"
	"sync"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// hub watches the bench once for all viewers and keeps the newest of everything: each view is rendered once, each live
// value encoded once, however many look on. A viewer has a flag, not a queue: one that is slow skips what was in
// between and never holds up the hub.
type hub struct {
	cfg        Config
	render     *renderer
	startedAt  uint64 // number of the last entry when the service began: until another comes, the day begins
	generation string // random, so that a browser knows that the service was started anew

	mu       sync.Mutex
	version  uint64 // counts changes of the view
	view     view.View
	rendered map[string]map[string]string // page → region → HTML of this version
	live     map[string]liveItem
	liveSeq  uint64
	tones    []toneItem // the newest few
	toneSeq  uint64
	judged   map[bench.Slot]calc.Verdict // the verdicts that were sounded
	viewers  map[*viewer]struct{}
}

type viewer struct{ wake chan struct{} }

// liveItem is what a page is told of one gauge's newest value.
type liveItem struct {
	seq   uint64
	Gauge string     `json:"g"`
	Value view.Text  `json:"v"`
	Raw   bool       `json:"raw,omitempty"` // without a zero
	Open  bool       `json:"open"`
	Fault string     `json:"fault,omitempty"`
	Still bool       `json:"still,omitempty"`
	Sweep int        `json:"sweep,omitempty"`
	Here  bool       `json:"here,omitempty"` // the gauge that reads at the point in work
	Left  *view.Left `json:"left,omitempty"`
	last  bench.Live
}

// toneItem is a sound with its words.
type toneItem struct {
	seq   uint64
	Tone  string `json:"tone"`
	Words string `json:"words,omitempty"`
}

const tonesKept = 16

func newHub(cfg Config, r *renderer) *hub {
	var g [6]byte
	_, _ = rand.Read(g[:]) // never fails
	h := &hub{cfg: cfg, render: r, generation: hex.EncodeToString(g[:]), live: map[string]liveItem{},
		judged: map[bench.Slot]calc.Verdict{}, viewers: map[*viewer]struct{}{}}
	for _, res := range cfg.Bench.Results().All() {
		h.judged[res.Slot()] = res.Verdict
	}
	h.startedAt = cfg.Bench.State().N
	h.look()
	for _, l := range cfg.Bench.Live() {
		h.hear(l)
	}
	return h
}

// run follows the bench until ctx ends or its channel closes.
func (h *hub) run(ctx context.Context, events <-chan Event) {
	for {
		select {
		case <-ctx.Done():
			return
		case e, ok := <-events:
			if !ok {
				return
			}
			switch {
			case e.Live != nil:
				h.hear(*e.Live)
			case e.Notice != nil:
				if e.Notice.Tone != "" || e.Notice.Words != "" && !e.Notice.Stands {
					h.sound(e.Notice.Tone, e.Notice.Words)
				}
				h.look()
			default:
				if e.Outcome != nil {
					h.judge(e.Outcome.Results)
				}
				h.look()
			}
			h.wakeAll()
		}
	}
}

// look takes a new view of the bench; rendering waits until somebody asks for a page.
func (h *hub) look() {
	s, results := h.cfg.Bench.State(), h.cfg.Bench.Results()
	v := view.Of(s, results, h.cfg.Bench.Troubles())
	v.Remind = v.Remind || s.N == h.startedAt
	h.mu.Lock()
	defer h.mu.Unlock()
	h.version++
	h.view, h.rendered = v, map[string]map[string]string{}
	for _, item := range h.live {
		h.place(item.last)
	}
}

// hear keeps the newest value of a gauge.
func (h *hub) hear(l bench.Live) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.place(l)
}

// place puts a value on the rule of the point in work. The caller holds mu.
func (h *hub) place(l bench.Live) {
	h.liveSeq++
	item := liveItem{seq: h.liveSeq, Gauge: l.Gauge, Open: l.Open, Fault: l.Fault, Still: l.Still, Sweep: l.Sweep, last: l}
	value := l.Value
	if value == nil {
		item.Raw = true
		if l.Raw.Valid() {
			value = &l.Raw
		}
	}
	if value != nil {
		item.Value = view.Shown(*value)
	}
	if g := h.view.Gauge; g != nil && g.Name == l.Gauge {
		item.Here = true
		if r := h.view.Rule; r != nil && l.Value != nil && l.Value.Kind() == r.Kind && l.Open {
			left := r.Stand(l.Value.Float())
			item.Left = &left
		}
	}
	h.live[l.Gauge] = item
}

// sound keeps a tone for those who listen now.
func (h *hub) sound(tone, words string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.toneSeq++
	h.tones = append(h.tones, toneItem{seq: h.toneSeq, Tone: tone, Words: words})
	if len(h.tones) > tonesKept {
		h.tones = h.tones[len(h.tones)-tonesKept:]
	}
}

// judge sounds the verdict of results that are new.
func (h *hub) judge(news []bench.Result) {
	worst := calc.NoVerdict
	for _, r := range news {
		v := r.Verdict
		if r.Refused != "" {
			v = calc.VerdictOut
		}
		if h.judged[r.Slot()] != v || v == calc.VerdictOut {
			worst = worst.Worse(v)
		}
		h.judged[r.Slot()] = v
	}
	if m := view.MarkOf(worst); m != "" {
		h.sound(m, "")
	}
}

// regions gives a page's parts as HTML and the id of this state of it.
func (h *hub) regions(page string) (map[string]string, string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	id := h.id()
	if got, ok := h.rendered[page]; ok {
		return got, id, nil
	}
	got, err := h.render.regions(page, h.view)
	if err != nil {
		return nil, id, err
	}
	h.rendered[page] = got
	return got, id, nil
}

// id names the state a page shows: which run of the service, which version. The caller holds mu.
func (h *hub) id() string { return fmt.Sprintf("%s-%d", h.generation, h.version) }

// liveSince gives the values that are newer than a viewer has seen, and the number up to which it has seen them then.
func (h *hub) liveSince(seq uint64) ([]liveItem, uint64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	var out []liveItem
	for _, item := range h.live {
		if item.seq > seq {
			out = append(out, item)
		}
	}
	slices.SortFunc(out, func(a, b liveItem) int { return int(int64(a.seq) - int64(b.seq)) })
	return out, h.liveSeq
}

// tonesSince gives the sounds a viewer has not heard.
func (h *hub) tonesSince(seq uint64) ([]toneItem, uint64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	var out []toneItem
	for _, t := range h.tones {
		if t.seq > seq {
			out = append(out, t)
		}
	}
	return out, h.toneSeq
}

// join adds a viewer; leave takes it away.
func (h *hub) join() *viewer {
	v := &viewer{wake: make(chan struct{}, 1)}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.viewers[v] = struct{}{}
	return v
}

func (h *hub) leave(v *viewer) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.viewers, v)
}

func (h *hub) wakeAll() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for v := range h.viewers {
		select {
		case v.wake <- struct{}{}:
		default: // it has not come for the last one yet: it will see the newest then
		}
	}
}
