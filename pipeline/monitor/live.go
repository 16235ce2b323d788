package monitor

import (
	"encoding/json"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// liveGauge is the newest value of a gauge, and what the pages are told of it, made when somebody asks.
type liveGauge struct {
	seq   uint64
	last  bench.Live
	shown float64 // the value the large figures show: it stays while the gauge only flickers
	item  []byte
}

// liveItem is what a page is told of one gauge's newest value.
type liveItem struct {
	Gauge string      `json:"g"`
	Value view.Text   `json:"v"`
	Raw   bool        `json:"raw,omitempty"` // without a zero
	Open  bool        `json:"open"`
	Fault string      `json:"fault,omitempty"`
	Still bool        `json:"still,omitempty"`
	Sweep int         `json:"sweep,omitempty"`
	Here  bool        `json:"here,omitempty"` // the gauge that reads at the point in work
	Title string      `json:"title,omitempty"`
	Self  bool        `json:"self,omitempty"` // it takes by itself
	Stand *view.Stand `json:"stand,omitempty"`
	Hand  string      `json:"hand,omitempty"` // what the hand does now, where a wheel is read by eye
	At    int64       `json:"at,omitempty"`   // when it was sent, ms since 1970
}

// hear keeps the newest value of a gauge.
func (h *hub) hear(l bench.Live) {
	h.mu.Lock()
	defer h.mu.Unlock()
	g, ok := h.live[l.Gauge]
	if !ok {
		g = &liveGauge{}
		h.live[l.Gauge] = g
	}
	h.liveSeq++
	g.seq, g.last, g.item = h.liveSeq, l, nil
	h.turnOn(l)
}

// encoded makes what the pages are told of a gauge's value, once for all of them. The caller holds mu.
func (h *hub) encoded(g *liveGauge) []byte {
	if g.item == nil {
		h.places++
		g.item, _ = json.Marshal(h.item(g)) // numbers and texts: never fails
	}
	return g.item
}

// item puts a value on the rule of the point in work. The caller holds mu.
func (h *hub) item(g *liveGauge) liveItem {
	l := g.last
	item := liveItem{Gauge: l.Gauge, Open: l.Open, Fault: l.Fault, Still: l.Still, Sweep: l.Sweep, At: l.At / 1000}
	value := l.Value
	if value == nil {
		item.Raw = true
		if l.Raw.Valid() {
			value = &l.Raw
		}
	}
	if value != nil {
		item.Value = view.TypesetBoth(view.Shown(*value))
	}
	v := &h.view
	if v.Gauge == nil || v.Gauge.Name != l.Gauge {
		return item
	}
	item.Here, item.Title, item.Self, item.Hand = true, v.Title, v.BySelf, l.Hand
	if r := v.Rule; r != nil && l.Value != nil && l.Value.Kind() == r.Kind && l.Open && movable(v) {
		stand := r.Stand(h.steady(g, *l.Value, r.Resolution))
		item.Stand = &stand
	}
	return item
}

// movable reports whether the part may be on its way: not while a question, a caution or a lost gauge is on the screen.
func movable(v *view.View) bool {
	return v.Face == view.FaceInstruct || v.Face == view.FaceVerdict
}

// steady gives the value that the large figures show.
func (h *hub) steady(g *liveGauge, x quantity.Value, resolution float64) float64 {
	g.shown = view.Steady(g.shown, x.Float(), resolution, g.last.Still)
	return g.shown
}
