package plan

import (
	"math"
	"slices"
	"strings"

	"thoud/calc"
)

// Run is one computation of a step over a pass.
type Run struct {
	// Key names it among the step's results: "", "left", "left.inlet", or for one of several computations its name with
	// that before it, "left.stagger".
	Key string
	// Own is what {key} stands for in its references: Key without the name.
	Own     string
	Compute *Compute
}

// Runs lists the computations of a step over any pass, in order; those told before the first reading are not among them.
func (p *Plan) Runs(s Step) []Run { return p.RunsAt(s, math.MaxInt) }

// RunsAt lists the computations of a step over one of its passes, in order.
func (p *Plan) RunsAt(s Step, pass int) []Run {
	var out []Run
	for _, c := range s.computations() {
		if !c.Before && (c.FromPass <= pass || len(s.Points) == 0) {
			out = p.runsOf(out, s, c)
		}
	}
	return out
}

// RunsBefore lists the computations of a step that are told before its first reading.
func (p *Plan) RunsBefore(s Step) []Run {
	var out []Run
	for i := range s.Also {
		if s.Also[i].Before {
			out = p.runsOf(out, s, &s.Also[i])
		}
	}
	return out
}

func (p *Plan) runsOf(out []Run, s Step, c *Compute) []Run {
	for _, own := range p.own(s, c) {
		out = append(out, Run{Key: keyed(own, c.Name), Own: own, Compute: c})
	}
	return out
}

// keyed joins what a computation runs for and its name.
func keyed(own, name string) string {
	if own == "" || name == "" {
		return own + name
	}
	return own + "." + name
}

// own lists what one computation runs for.
func (p *Plan) own(s Step, c *Compute) []string {
	if c.Of != nil {
		return c.Of
	}
	var keys []string
	switch c.Per {
	case PerPoint:
		for _, pt := range s.Points {
			if c.runsFor(pt.ID) {
				keys = append(keys, pt.ID)
			}
		}
	case PerCylinder:
		keys = append(keys, p.Cylinders...)
	case PerBlock:
		keys = append(keys, p.Blocks...)
	case PerOther:
		keys = append(keys, p.others()...)
	case PerValve:
		for _, c := range p.Cylinders {
			for _, v := range p.Valves {
				keys = append(keys, c+"."+v)
			}
		}
	default:
		keys = []string{""}
	}
	return keys
}

// runsFor reports whether a computation for every point runs for this one.
func (c *Compute) runsFor(point string) bool {
	return len(c.Points) == 0 || slices.ContainsFunc(c.Points, func(pattern string) bool {
		_, ok := Match(pattern, point)
		return ok
	})
}

// Passes is how many passes a step wants at least: the first one that asks for its last points.
func (s Step) Passes() int {
	n := 1
	for _, p := range s.Points {
		n = max(n, p.FromPass)
	}
	return n
}

// Keys lists the keys of a step's runs, over whatever pass.
func (p *Plan) Keys(s Step) []string {
	var keys []string
	for _, r := range p.Runs(s) {
		keys = append(keys, r.Key)
	}
	return keys
}

// ComputeOf is the computation that a result's key belongs to; nil where the step computes nothing.
func (s Step) ComputeOf(key string) *Compute {
	for i := range s.Also {
		if s.Also[i].gives(key) {
			return &s.Also[i]
		}
	}
	return s.Compute
}

// gives reports whether a result's key is one of a named computation.
func (c *Compute) gives(key string) bool {
	if c.Of != nil {
		return slices.ContainsFunc(c.Of, func(own string) bool { return keyed(own, c.Name) == key })
	}
	return key == c.Name || strings.HasSuffix(key, "."+c.Name)
}

// Shows reports whether a figure of a run is shown large.
func (s Step) Shows(key, figure string) bool {
	c := s.ComputeOf(key)
	return c != nil && slices.Contains(c.Shown, figure)
}

// GaugeUse is one of several gauges of a step, with what it measures and its own datum.
type GaugeUse struct {
	Name    string
	Capture Capture
	Datum   *Rest
}

// At is the step as one of its points sees it: with the gauge and the datum of that point.
func (s Step) At(point string) Step {
	pt, ok := s.Point(point)
	if !ok || pt.Gauge == "" {
		return s
	}
	for _, g := range s.Gauges {
		if g.Name == pt.Gauge {
			s.Capture, s.Datum = g.Capture, g.Datum
		}
	}
	return s
}

// GaugeOf names the further gauge that reads a point, "" for the step's own.
func (s Step) GaugeOf(point string) string {
	pt, _ := s.Point(point)
	return pt.Gauge
}

// RunTitle is RunName of one of the step's runs, by what the plan calls it.
func (s Step) RunTitle(key string) string { return RunName(s.CalledKey(key)) }

// CalledKey is a run's key with what its computation is called in place of its name.
func (s Step) CalledKey(key string) string {
	c := s.ComputeOf(key)
	if c == nil || c.Called == "" {
		return key
	}
	if c.Name != "" {
		key = strings.TrimSuffix(strings.TrimSuffix(key, c.Name), ".")
	}
	if key == "" {
		return c.Called
	}
	return key + "." + c.Called
}

// RunName is how people call a run of a step: "left", "right inlet", "ratio apart" for how far the runs lie apart; "" for
// the whole pass.
func RunName(key string) string {
	name := strings.ReplaceAll(key, ".", " ")
	if of, ok := strings.CutSuffix(name, "-spread"); ok {
		side, figure := "", of
		if i := strings.LastIndex(of, " "); i >= 0 {
			side, figure = of[:i+1], of[i+1:]
		}
		if figure == "mean" {
			figure = ""
		}
		name = strings.TrimSpace(side + strings.TrimSpace(calc.FigureWords(strings.ReplaceAll(figure, "-", "_"))+" apart"))
	}
	return strings.ReplaceAll(name, "-", " ")
}
