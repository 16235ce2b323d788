package calc

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"testing"
)

// figuresOfAll are the numbers of every method's cases with their U, by name.
func figuresOfAll(t *testing.T) map[string][2]float64 {
	t.Helper()
	out := map[string][2]float64{}
	put := func(name string, req Request) {
		res, err := Run(req)
		if err != nil || res.Refused != "" {
			t.Fatalf("%s: %v %s", name, err, res.Refused)
		}
		for _, f := range res.Figures {
			xs := f.List
			if f.Value != nil {
				xs = []float64{*f.Value}
			}
			for _, row := range f.Grid {
				xs = append(xs, row...)
			}
			for i, x := range xs {
				u := f.U
				if i < len(f.ULists) {
					u = f.ULists[i]
				}
				out[fmt.Sprintf("%s %s[%d]", name, f.Name, i)] = [2]float64{x, u}
			}
		}
	}
	for i, row := range mcRows() {
		m, _ := Find(row.method)
		u := row.u
		if u == nil {
			u = usualUncertainty()
		}
		kind := row.kind()
		put(fmt.Sprintf("%d %s", i, row.method), Request{Method: row.method, Kind: kind, Inputs: withUsual(m.of(kind).Inputs, row.in, u)})
	}
	for name, req := range longRequests() {
		put("long "+name, req)
	}
	return out
}

// A ledger written on one processor verifies on another: figures agree within 1e-9 of themselves or 1e-6 of U, and U within
// 1e-6. THOUD_FIGURES names a file: this processor writes it where it is not there, and is held against it where it is
// (.ci/run does both, the second in an emulator). Without one, the figures are held against a second run of themselves.
func TestFiguresAgreeBetweenProcessors(t *testing.T) {
	got := figuresOfAll(t)
	want := figuresOfAll(t)
	if file := os.Getenv("THOUD_FIGURES"); file != "" {
		b, err := os.ReadFile(file)
		if os.IsNotExist(err) {
			if b, err = json.Marshal(got); err == nil {
				err = os.WriteFile(file, b, 0o600)
			}
		}
		if err == nil {
			want = nil
			err = json.Unmarshal(b, &want)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if len(got) != len(want) || len(got) < 200 {
		t.Fatalf("%d figures, want %d", len(got), len(want))
	}
	for name, w := range want {
		g := got[name]
		if d := math.Abs(g[0] - w[0]); d > 1e-9*math.Abs(w[0]) && d > 1e-6*w[1] && d > 1e-12 {
			t.Errorf("%s: %.17g here, %.17g there, U %.3g", name, g[0], w[0], w[1])
		}
		if d := math.Abs(g[1] - w[1]); d > 1e-6*w[1] && d > 1e-12*math.Max(1, math.Abs(w[0])) {
			t.Errorf("%s: U %.12g here, %.12g there", name, g[1], w[1])
		}
	}
}
