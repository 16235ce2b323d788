package monitor

import (
	"encoding/json"

	"thoud/capture/bench"
)

// turn is the curve of a sweep that runs, as the live values show it: the page draws it while it is made. What is kept
// and computed with is the bench's own record of the sweep.
type turn struct {
	gauge   string
	samples int
	seq     uint64 // grows with every point
	points  []turnPoint
}

// turnPoint is one pair of angle and value, in degrees and in the base unit of the gauge.
type turnPoint struct {
	seq          uint64
	angle, value float64
}

// turnMost is how many points are kept of a curve.
const turnMost = 6000

// turnOn follows a sweep. The caller holds mu.
func (h *hub) turnOn(l bench.Live) {
	if l.Sweep == 0 {
		if l.Gauge == h.turn.gauge && h.turn.gauge != "" {
			h.turn = turn{seq: h.turn.seq + 1}
		}
		return
	}
	h.fresh()
	tr := h.view.Trace
	if tr == nil || tr.Gauge != l.Gauge || l.Value == nil {
		return
	}
	if h.turn.gauge != l.Gauge || l.Sweep < h.turn.samples {
		h.turn = turn{gauge: l.Gauge, seq: h.turn.seq + 1}
	}
	h.turn.samples = l.Sweep
	angle, ok := h.live[tr.Angle]
	if !ok || len(h.turn.points) >= turnMost {
		return
	}
	at := angle.last.Raw
	if angle.last.Value != nil {
		at = *angle.last.Value
	}
	if !at.Valid() {
		return
	}
	h.turn.seq++
	h.turn.points = append(h.turn.points, turnPoint{seq: h.turn.seq, angle: at.Float(), value: l.Value.Float()})
}

// turnEvent is what a page is sent of a curve: the points that are new, from the beginning where it has none yet.
type turnEvent struct {
	On     bool         `json:"on"`
	Anew   bool         `json:"anew,omitempty"`
	Points [][2]float64 `json:"points,omitempty"`
}

// turnSince gives the points of the curve that a viewer has not seen, and the number up to which it has seen them then;
// nil where there is nothing new.
func (h *hub) turnSince(seq uint64) ([]byte, uint64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if seq == h.turn.seq {
		return nil, seq
	}
	e := turnEvent{On: h.turn.gauge != "", Anew: len(h.turn.points) == 0 || seq < h.turn.points[0].seq}
	for _, p := range h.turn.points {
		if p.seq > seq {
			e.Points = append(e.Points, [2]float64{p.angle, p.value})
		}
	}
	body, _ := json.Marshal(e) // numbers: never fails
	return body, h.turn.seq
}
