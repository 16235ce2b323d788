package bench_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"

	"thoud/capture/bench"
)

// constantsOf reads from a source file the values of the constants of a type, or whose names begin with a prefix.
func constantsOf(t *testing.T, file, typ, prefix string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		id, _ := spec.Type.(*ast.Ident)
		for i, name := range spec.Names {
			if typ != "" && (id == nil || id.Name != typ) || prefix != "" && !strings.HasPrefix(name.Name, prefix) || i >= len(spec.Values) {
				continue
			}
			if lit, ok := spec.Values[i].(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if s, err := strconv.Unquote(lit.Value); err == nil {
					out = append(out, s)
				}
			}
		}
		return true
	})
	if len(out) < 5 {
		t.Fatalf("%s has %d constants of it: is the test looking in the right place?", file, len(out))
	}
	return out
}

// Every kind of entry has a row, and Apply knows it.
func TestEveryKindHasItsRowAndItsPlace(t *testing.T) {
	for _, k := range constantsOf(t, "entry.go", "Kind", "") {
		row, ok := bench.KindOf(bench.Kind(k))
		if !ok || row.Words == "" {
			t.Errorf("kind %q has no row with words: add one to KindTable in capture/bench/kinds.go", k)
		}
	}
	p := newPlay(t, head+stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")), dial("dial-1", "indicator"))
	for _, row := range bench.KindTable() {
		_, err := bench.Apply(p.sc.State, bench.Entry{Kind: row.Kind, N: 99, Item: "dial-1", Place: bench.Place{Build: "17", Step: "height"}, Question: &bench.Question{}})
		if err != nil && strings.Contains(err.Error(), "does not know") {
			t.Errorf("kind %q: %v: add a case to Apply in capture/bench/apply.go", row.Kind, err)
		}
	}
}

// An entry about a gauge says which, whatever kind it is of: the register would not show it otherwise.
func TestAnEntryAboutAGaugeNamesIt(t *testing.T) {
	g := "dial-1"
	whole := bench.Entry{Item: g, Gauge: &bench.Gauge{Name: g}, Link: &bench.Link{Gauge: g}, Check: &bench.Check{Gauge: g}, Zero: &bench.Zero{Gauge: g}, Reading: &bench.Reading{Gauge: g}}
	for _, k := range []bench.Kind{bench.GaugeAdded, bench.GaugeRemoved, bench.GaugeLost, bench.GaugeBack, bench.GaugeChecked, bench.GaugeChosen, bench.ZeroSet, bench.ZeroLost, bench.DatumSeen, bench.ReadingTaken} {
		e := whole
		e.Kind = k
		if got := bench.GaugeOf(e); got != g {
			t.Errorf("%s: is about gauge %q, want %q", k, got, g)
		}
		if got := bench.GaugeOf(bench.Entry{Kind: k}); got != "" {
			t.Errorf("%s without anything is about %q", k, got)
		}
	}
	whole.Kind = bench.TallyIn
	if got := bench.GaugeOf(whole); got != "" {
		t.Errorf("a thing put into the engine is said to be about gauge %q", got)
	}
}

// Every verb has a row.
func TestEveryVerbHasItsRow(t *testing.T) {
	for _, v := range constantsOf(t, "verb.go", "", "Do") {
		row, ok := bench.VerbOf(v)
		switch {
		case !ok:
			t.Errorf("verb %q has no row: add one to VerbTable in capture/bench/verb_table.go", v)
		case row.Command == "" || row.Button == "" && row.Form == "":
			t.Errorf("verb %q has no command, or neither a button nor a form: say so in its row in capture/bench/verb_table.go", v)
		}
	}
}
