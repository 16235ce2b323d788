package monitor

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"time"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// hub watches the bench once for all viewers and keeps the newest of everything: each view is rendered once for all who
// look at the same page, each change and each live value is encoded once. Where nobody looks nothing is made: a change is
// only remembered. A viewer has a flag, not a queue: one that is slow skips what was in between and never holds up the
// hub.
type hub struct {
	cfg        Config
	render     *renderer
	startedAt  uint64 // number of the last entry when the service began: until another comes, the day begins
	generation string // random, so that a browser knows that the service was started anew

	mu      sync.Mutex
	stale   bool   // the bench has changed since the view was made
	version uint64 // counts the views
	view    view.View
	pages   map[string]*shownPage
	live    map[string]*liveGauge
	liveSeq uint64
	turn    turn
	tones   []toneItem // the newest few
	toneSeq uint64
	judged  map[bench.Slot]calc.Verdict // the verdicts that were sounded; nil where nobody listens
	taken   string                      // id of the reading that was told last
	viewers map[*viewer]struct{}

	looks, renders, places int // how often a view, a page, a live value was made: for the tests
}

type viewer struct{ wake chan struct{} }

// toneItem is a sound with its words.
type toneItem struct {
	seq   uint64
	Tone  string     `json:"tone,omitempty"`
	Words string     `json:"words,omitempty"`
	Taken *view.Text `json:"taken,omitempty"` // the reading that was taken
}

const tonesKept = 16

func newHub(cfg Config, r *renderer) *hub {
	var g [6]byte
	_, _ = rand.Read(g[:]) // never fails
	h := &hub{cfg: cfg, render: r, generation: hex.EncodeToString(g[:]), stale: true, live: map[string]*liveGauge{},
		pages: map[string]*shownPage{}, viewers: map[*viewer]struct{}{}}
	h.startedAt = cfg.Bench.State().N
	for _, l := range cfg.Bench.Live() {
		h.hear(l)
	}
	return h
}

// run follows the bench until ctx ends or its channel closes.
func (h *hub) run(ctx context.Context, events <-chan Event) {
	minute := time.NewTicker(clockTick)
	defer minute.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-minute.C:
			h.timePassed()
		case e, ok := <-events:
			if !ok {
				return
			}
			h.event(e)
		}
	}
}

// clockTick is how often a page is made anew where a time runs that it tells to the minute.
const clockTick = 20 * time.Second

// timePassed makes the page anew where it tells a time that runs.
func (h *hub) timePassed() {
	h.mu.Lock()
	told := len(h.view.Clocks) > 0 && len(h.viewers) > 0
	h.stale = h.stale || told
	h.mu.Unlock()
	if told {
		h.wakeAll()
	}
}

// event takes one change of the bench.
func (h *hub) event(e Event) {
	switch {
	case e.Live != nil:
		h.hear(*e.Live)
	case e.Notice != nil:
		words := e.Notice.Words
		if e.Notice.Tone == bench.ToneTaken {
			words = "" // the reading is told by the titles of its plan, once it is in the ledger
		}
		if e.Notice.Tone != "" || words != "" && !e.Notice.Stands {
			h.sound(e.Notice.Tone, words)
		}
		h.changed()
	default:
		if e.Outcome != nil {
			h.judge(e.Outcome.Results)
			h.tellTaken()
		}
		h.changed()
	}
	h.wakeAll()
}

// changed remembers that the view is old.
func (h *hub) changed() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.stale = true
}

// fresh makes the view anew where the bench has changed. The caller holds mu.
func (h *hub) fresh() {
	if !h.stale {
		return
	}
	sc := h.cfg.Bench.Scene()
	v := view.OfAimed(sc, h.cfg.Bench.Troubles(), h.cfg.Aim)
	v.Remind = v.Remind || sc.State.N == h.startedAt
	h.stale = false
	h.looks++
	h.version++
	h.view = v
	for _, g := range h.live { // the same value may stand elsewhere on a new rule
		h.liveSeq++
		g.seq, g.item = h.liveSeq, nil
	}
}

// sound keeps a tone for those who listen now.
func (h *hub) sound(tone, words string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.soundLocked(tone, words)
}

func (h *hub) soundLocked(tone, words string) { h.tellLocked(toneItem{Tone: tone, Words: words}) }

func (h *hub) tellLocked(item toneItem) {
	if len(h.viewers) == 0 {
		return
	}
	h.toneSeq++
	item.seq = h.toneSeq
	h.tones = append(h.tones, item)
	if len(h.tones) > tonesKept {
		h.tones = h.tones[len(h.tones)-tonesKept:]
	}
}

// tellTaken tells a reading that is new.
func (h *hub) tellTaken() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.viewers) == 0 {
		return
	}
	id, words := view.NewestReading(h.cfg.Bench.State())
	if id == h.taken {
		return
	}
	h.taken = id
	if id != "" {
		words = view.TypesetBoth(words)
		h.tellLocked(toneItem{Taken: &words})
	}
}

// judge sounds the verdict of results that are new.
func (h *hub) judge(news []bench.Result) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.judged == nil {
		return
	}
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
		h.soundLocked(m, "")
	}
}

// shownPage is a page as it was rendered, for all who look at it.
type shownPage struct {
	version uint64
	regions map[string]region
	before  map[string]map[string]region // earlier renderings by their id, the newest few
	order   []string                     // of before, oldest first
	encoded map[string][]byte            // by the id a viewer comes from: what it is sent to be up to date
}

// beforeKept is how many earlier renderings of a page are kept, for viewers that are a little behind.
const beforeKept = 4

// regions gives a page's parts and the id of this state of it.
func (h *hub) regions(page string) (map[string]region, string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	p, err := h.pageLocked(page)
	if err != nil {
		return nil, "", err
	}
	return p.regions, h.id(p.version), nil
}

func (h *hub) pageLocked(page string) (*shownPage, error) {
	h.fresh()
	p, ok := h.pages[page]
	if ok && p.version == h.version {
		return p, nil
	}
	regions, err := h.render.regions(page, h.view)
	if err != nil {
		return nil, err
	}
	h.renders++
	if !ok {
		p = &shownPage{before: map[string]map[string]region{}}
		h.pages[page] = p
	} else {
		id := h.id(p.version)
		p.before[id] = p.regions
		if p.order = append(p.order, id); len(p.order) > beforeKept {
			delete(p.before, p.order[0])
			p.order = p.order[1:]
		}
	}
	p.version, p.regions, p.encoded = h.version, regions, map[string][]byte{}
	return p, nil
}

// id names the state a page shows: which run of the service, which version.
func (h *hub) id(version uint64) string { return fmt.Sprintf("%s-%d", h.generation, version) }

// pageEvent is what a page is sent: whole regions, or single rows of them.
type pageEvent struct {
	At   string                       `json:"at"`
	R    map[string]string            `json:"r,omitempty"`
	Rows map[string]map[string]string `json:"rows,omitempty"`
}

// since gives, encoded, what a viewer that shows the state id of a page must be sent, and the id it shows then; nil where
// nothing is new. It is made once for all viewers that come from the same state.
func (h *hub) since(page, id string) ([]byte, string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	p, err := h.pageLocked(page)
	if err != nil {
		return nil, id, err
	}
	now := h.id(p.version)
	if now == id {
		return nil, id, nil
	}
	if got, ok := p.encoded[id]; ok {
		return got, now, nil
	}
	e := pageEvent{At: now, R: map[string]string{}, Rows: map[string]map[string]string{}}
	old, known := p.before[id]
	for name, reg := range p.regions {
		if !known {
			e.R[name] = reg.html
			continue
		}
		whole, rows := reg.since(old[name])
		switch {
		case rows != nil:
			e.Rows[name] = rows
		case whole != "" || reg.html == "" && old[name].html != "":
			e.R[name] = whole
		}
	}
	body, err := json.Marshal(e)
	if err != nil {
		return nil, id, fmt.Errorf("page %s: %w", page, err)
	}
	p.encoded[id] = body
	return body, now, nil
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
	if h.judged == nil {
		h.taken, _ = view.NewestReading(h.cfg.Bench.State())
		h.judged = map[bench.Slot]calc.Verdict{}
		for _, res := range h.cfg.Bench.Results().All() {
			h.judged[res.Slot()] = res.Verdict
		}
	}
	return v
}

func (h *hub) leave(v *viewer) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.viewers, v)
	if len(h.viewers) == 0 {
		h.judged = nil
	}
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

// liveSince gives the values that are newer than a viewer has seen, encoded, and the number up to which it has seen them
// then.
func (h *hub) liveSince(seq uint64) ([]byte, uint64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.fresh()
	var news []*liveGauge
	for _, g := range h.live {
		if g.seq > seq {
			news = append(news, g)
		}
	}
	if len(news) == 0 {
		return nil, h.liveSeq
	}
	slices.SortFunc(news, func(a, b *liveGauge) int { return int(int64(a.seq) - int64(b.seq)) })
	out := []byte{'['}
	for i, g := range news {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(out, h.encoded(g)...)
	}
	return append(out, ']'), h.liveSeq
}
