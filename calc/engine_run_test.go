package calc

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc/quantity"
)

const inch = 25.4

func num(x float64, us ...Component) Val { return Val{Num: &Num{X: x, Us: us}} }

func list(xs ...float64) Val {
	var v Val
	for _, x := range xs {
		v.List = append(v.List, Num{X: x})
	}
	return v
}

func ptr(x float64) *float64 { return &x }

// tester is what testing and rapid have in common.
type tester interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// mustRun runs a request that must be answered.
func mustRun(t tester, req Request) Result {
	t.Helper()
	res, err := Run(req)
	if err != nil {
		t.Fatalf("%s: %v", req.Method, err)
	}
	if res.Refused != "" {
		t.Fatalf("%s refused: %s", req.Method, res.Refused)
	}
	return res
}

func value(t tester, res Result, name string) float64 {
	t.Helper()
	f, ok := res.Figure(name)
	if !ok || f.Value == nil {
		t.Fatalf("%s: no figure %s", res.Method, name)
	}
	return *f.Value
}

func near(t tester, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g ± %g", what, got, want, tol)
	}
}

// The contact transfer of a guide block, computed independently: contact 0.212 in read outside, clearance 0.050 in.
func TestContactClearanceOutside(t *testing.T) {
	req := Request{Method: "contact-clearance", Digits: 0.0005 * inch, Inputs: map[string]Val{
		"protrusion": list(0.212 * inch), "clearance": num(0.050 * inch), "side": {Text: "outside"}, "now": num(0.240 * inch),
	}}
	res := mustRun(t, req)
	near(t, "target", value(t, res, "target"), 6.6548, 1e-9)
	near(t, "move", value(t, res, "move"), 0.5588, 1e-9)
	if got, want := res.Adjustment[0].Words.Inch, "move the block 22 thou away from the cam"; got != want {
		t.Errorf("words: got %q, want %q", got, want)
	}
	req.Words = map[string]string{"away": "into the cylinder, away from the cam"}
	if got := mustRun(t, req).Adjustment[0].Words.MM; got != "move the block 0.56 mm into the cylinder, away from the cam" {
		t.Errorf("words of the plan: got %q", got)
	}
	req.Inputs["now"] = num(6.70)
	near(t, "clearance now", value(t, mustRun(t, req), "clearance_now"), 1.3152, 1e-9)
}

func TestRunInputErrors(t *testing.T) {
	good := func() Request {
		return Request{Method: "contact-clearance", Inputs: map[string]Val{"protrusion": list(5), "clearance": num(1.27)}}
	}
	for _, tc := range []struct {
		name, field string
		spoil       func(*Request)
	}{
		{"unknown method", "method", func(r *Request) { r.Method = "guesswork" }},
		{"missing", "clearance", func(r *Request) { delete(r.Inputs, "clearance") }},
		{"unknown input", "clearence", func(r *Request) { r.Inputs["clearence"] = num(1) }},
		{"empty list", "protrusion", func(r *Request) { r.Inputs["protrusion"] = Val{} }},
		{"NaN", "protrusion[0]", func(r *Request) { r.Inputs["protrusion"] = list(math.NaN()) }},
		{"infinite", "clearance", func(r *Request) { r.Inputs["clearance"] = num(math.Inf(1)) }},
		{"not positive", "clearance", func(r *Request) { r.Inputs["clearance"] = num(-1) }},
		{"word", "side", func(r *Request) { r.Inputs["side"] = Val{Text: "left"} }},
		{"negative u", "clearance.u", func(r *Request) { r.Inputs["clearance"] = num(1, Component{U: -1}) }},
		{"limit of no figure", "limits.width", func(r *Request) { r.Limits = map[string]Limit{"width": {Lower: ptr(1)}} }},
		{"limits crossed", "limits.move", func(r *Request) { r.Limits = map[string]Limit{"move": {Lower: ptr(2), Upper: ptr(1)}} }},
		{"level", "level", func(r *Request) { r.Level = 1.5 }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			req := good()
			tc.spoil(&req)
			_, err := Run(req)
			var in *InputError
			if !errors.As(err, &in) || in.Field != tc.field {
				t.Errorf("got %v, want an InputError at %s", err, tc.field)
			}
		})
	}
}

func TestRunRefusesInsteadOfPanicking(t *testing.T) {
	for name, f := range map[string]func(Args, *Out) error{
		"panic":   func(in Args, _ *Out) error { in.Num("never declared"); return nil },
		"refusal": func(Args, *Out) error { return Refuse("gap", "measure again", "is %d", 3) },
		"NaN":     func(_ Args, o *Out) error { o.Set("y", math.NaN()); return nil },
		"figure":  func(_ Args, o *Out) error { o.Set("z", 1); return nil },
	} {
		m := Method{Name: "broken", Figures: []Figure{{Name: "y", Kind: quantity.Number}}, Compute: f}
		res, err := m.Run(Request{Method: "broken"})
		if err != nil || res.Refused == "" || res.Figures != nil {
			t.Errorf("%s: got %+v, %v, want a refusal", name, res, err)
		}
	}
}

// Every row of the table is fit to be shown and used.
func TestMethodsAreSane(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range Methods() {
		if seen[m.Name] {
			t.Errorf("%s: twice in the table", m.Name)
		}
		seen[m.Name] = true
		if err := m.Validate(); err != nil {
			t.Errorf("%s: %v", m.Name, err)
		}
	}
}

func TestWordsLeaveNoPlaceholder(t *testing.T) {
	a := Adjustment{What: "shims", Amount: 0.028 * inch, Kind: quantity.Length, Direction: "fit", Pieces: []float64{0.020 * inch, 0.005 * inch, 0.003 * inch},
		Words: "{direction} {amount} of shims: {pieces}; leaves {figure:float} ({signed})"}
	res := Result{Figures: []FigureResult{{Name: "float", Shown: Shown{"0.216 mm", "0.0085 in"}}}}
	got := renderAdjustment(a, res, Request{})
	if want := "fit 28 thou of shims: 0.020 + 0.005 + 0.003; leaves 0.0085 in (+28 thou)"; got.Words.Inch != want {
		t.Errorf("got %q, want %q", got.Words.Inch, want)
	}
	if want := "fit 0.711 mm of shims: 0.5080 + 0.1270 + 0.0762; leaves 0.216 mm (+0.711 mm)"; got.Words.MM != want {
		t.Errorf("got %q, want %q", got.Words.MM, want)
	}
	if !got.Target {
		t.Error("there is something to fit")
	}
}

// The names are a contract: plans, stored results and scripts use them.
func TestMethodNamesAreFixed(t *testing.T) {
	for _, name := range []string{
		"indicator-travel", "indicator-extension", "contact-clearance", "centre-line", "running-fit", "cone-seat", "bore-map", "circle-fit", "ring-gap", "ring-stagger", "piston-position",
		"tdc-stop", "tdc-fit", "cam-timing", "cam-events", "cam-correction", "key-offset", "valve-to-piston", "valve-lash", "lash-positions", "valve-spring", "spring-shims", "bolt-preload", "bolt-angle",
		"bolt-torque", "bolt-heat", "runout", "end-float", "shim-stack", "shim-both-sides", "chain-slack", "deck-height", "compression", "balance", "rod-weigh", "rocker-geometry", "uncertainty",
		"decide", "gauge-study", "statistics", "anova", "tolerance-grade", "thread",
	} {
		if _, ok := Find(name); !ok {
			t.Errorf("no method %s", name)
		}
	}
}

// The same request gives the same result, to the last bit and in the same order: verification recomputes.
func TestRunIsDeterministic(t *testing.T) {
	req := boreMapOf60()
	req.Limits = map[string]Limit{"taper": {Upper: ptr(0.02)}, "out_of_round": {Upper: ptr(0.012)}, "clearance_min": {Lower: ptr(0.05)}, "clearance_max": {Upper: ptr(0.1)}}
	first := mustRun(t, req)
	for range 5 {
		if diff := cmp.Diff(first, mustRun(t, req)); diff != "" {
			t.Fatalf("recomputed (-first +again):\n%s", diff)
		}
	}
}

func TestValidateFindsFaults(t *testing.T) {
	for name, spoil := range map[string]func(*Method){
		"no title": func(m *Method) { m.Title = " " }, "no version": func(m *Method) { m.Version = 0 }, "no cautions": func(m *Method) { m.Cautions = nil }, "no computation": func(m *Method) { m.Compute = nil },
		"figure twice":          func(m *Method) { m.Figures = append(m.Figures, m.Figures[0]) },
		"figure without doc":    func(m *Method) { m.Figures = []Figure{{Name: "x"}} },
		"input twice":           func(m *Method) { m.Inputs = append(m.Inputs, m.Inputs[0]) },
		"input without doc":     func(m *Method) { m.Inputs = []Input{{Name: "x"}} },
		"record without fields": func(m *Method) { m.Inputs = []Input{{Name: "x", Doc: "x", Shape: Record}} },
		"words of a number":     func(m *Method) { m.Inputs = []Input{{Name: "x", Doc: "x", Enum: []string{"a"}}} },
		"fault inside a record": func(m *Method) {
			m.Inputs = []Input{{Name: "x", Doc: "x", Shape: Record, Fields: []Input{{Name: "y"}}}}
		},
		"record fields elsewhere": func(m *Method) { m.Inputs = []Input{{Name: "x", Doc: "x", Fields: []Input{{Name: "y", Doc: "y"}}}} },
	} {
		m := thread()
		if err := m.Validate(); err != nil {
			t.Fatal(err)
		}
		spoil(&m)
		if m.Validate() == nil {
			t.Errorf("%s: not found", name)
		}
	}
}
