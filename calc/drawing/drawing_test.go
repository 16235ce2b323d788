package drawing_test

import (
	"cmp"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"thoud/calc/drawing"
)

var (
	pictures = flag.String("pictures", "", "a folder to write the drawings to, for looking at them")
	update   = flag.Bool("update", false, "keep the drawings' structure as it is now")
)

// shown is a drawing with the numbers of one state of its job.
type shown struct {
	row  string
	file string
	n    drawing.Numbers
}

// states gives each row several times: bare, with every number at its usual, least and most value, with each point and each move.
func states() []shown {
	var all []shown
	for _, r := range drawing.Rows() {
		add := func(name string, n drawing.Numbers) {
			all = append(all, shown{r.Name, r.Name + "-" + name, n})
		}
		add("bare", drawing.Numbers{})
		for _, end := range []string{"least", "usual", "most"} {
			add(end, drawing.Numbers{Of: numbers(r, end), Point: first(r.Lights), Move: first(r.Moves)})
		}
		if r.Bolts {
			bolts := make([]drawing.Bolt, 12)
			for i := range bolts {
				bolts[i] = drawing.Bolt{Name: strconv.Itoa(i + 1), X: float64(i % 4), Y: float64(i / 4), Done: i < 4, Now: i == 4, Next: i == 10}
			}
			add("twelve", drawing.Numbers{Bolts: bolts, Move: "tighten", Of: numbers(r, "usual")})
			add("four", drawing.Numbers{Bolts: []drawing.Bolt{{Name: "1", X: -1, Y: -1}, {Name: "2", X: 1, Y: 1}, {Name: "3", X: -1, Y: 1}, {Name: "4", X: 1, Y: -1}}, Point: "3"})
			add("one", drawing.Numbers{Bolts: []drawing.Bolt{{Name: "1"}}, Point: "1", Move: "slacken"})
		}
		if r.Pieces {
			add("pieces", drawing.Numbers{Pieces: []drawing.Piece{
				{1, "stop", "left plug"}, {2, "cloth", "right mouth"}, {3, "board", "joint"}, {4, "keeper", "right exhaust follower"}, {5, "keeper", "right inlet follower"}, {6, "clip", "left"}, {12, "indicator", "left"},
			}})
		}
		for _, p := range r.Lights {
			add("at-"+p, drawing.Numbers{Of: numbers(r, "usual"), Point: p, Move: first(r.Moves)})
		}
		for _, m := range r.Moves {
			add("go-"+m, drawing.Numbers{Of: numbers(r, "usual"), Point: first(r.Lights), Move: m})
		}
		for _, c := range r.Choices {
			for _, v := range c.Of {
				add(c.Name+"-"+v, drawing.Numbers{Of: numbers(r, "usual"), Point: first(r.Lights), Move: first(r.Moves), Is: map[string]string{c.Name: v}})
			}
		}
	}
	return all
}

func first(all []string) string {
	if len(all) == 0 {
		return ""
	}
	return all[0]
}

// written is a text as long as a gauge of that kind sends.
var written = map[string]string{"length": "0.1740 in", "angle": "−135.5°", "torque": "24 lbf·ft", "volume": "12.4 cm³", "mass": "384.25 g", "number": "12.5 %", "pressure": "5 bar", "temperature": "20.5 °C", "force": "23.90 kN"}

func numbers(r drawing.Row, end string) map[string]drawing.Number {
	of := map[string]drawing.Number{}
	for _, d := range r.Drives {
		v := map[string]float64{"least": d.Least, "usual": d.Usual, "most": d.Most, "odd": d.Least + (d.Most-d.Least)*0.6137}[end]
		of[d.Name] = drawing.Number{Value: v, Text: written[string(d.Kind)]}
	}
	return of
}

// Every drawing is written in every state, as a file that can be looked at by itself.
func TestEveryRowIsDrawn(t *testing.T) {
	dir := *pictures
	if dir == "" {
		dir = t.TempDir()
	}
	for _, st := range states() {
		p, err := drawing.Of(st.row, st.n)
		if err != nil {
			t.Errorf("%s: %v", st.file, err)
			continue
		}
		if len(p.Elements) < 8 {
			t.Errorf("%s has %d strokes: calc/drawing/table.go has a row that nobody draws", st.file, len(p.Elements))
		}
		file := filepath.Join(dir, st.file+".svg")
		if err := os.WriteFile(file, []byte(p.Standalone()), 0o600); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, file)
	}
}

func wellFormed(t *testing.T, file string) {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	for d := xml.NewDecoder(f); ; {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("%s: %v", filepath.Base(file), err)
		}
	}
}

// outline is a drawing in words: its parts with how many strokes of each class, its texts, its arrows. It stays the same when a
// line moves a little, and changes when a part is lost or a word is another.
func outline(p drawing.Picture) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n", p.Name, p.Says)
	count := map[string]map[string]int{}
	var order []string
	for _, e := range p.Elements {
		if count[e.Part] == nil {
			count[e.Part] = map[string]int{}
			order = append(order, e.Part)
		}
		count[e.Part][e.Class]++
	}
	for _, part := range order {
		var of []string
		for _, c := range slices.Sorted(maps.Keys(count[part])) {
			of = append(of, fmt.Sprintf("%s %d", c, count[part][c]))
		}
		fmt.Fprintf(&b, "  %s: %s\n", cmp.Or(part, "-"), strings.Join(of, ", "))
	}
	for _, e := range p.Elements {
		if e.Text != "" {
			fmt.Fprintf(&b, "  text %q\n", e.Text)
		}
	}
	for _, a := range p.Arrows {
		fmt.Fprintf(&b, "  arrow %s %v\n", a.Says, a.Meant)
	}
	return b.String()
}

// The drawings are compared with kept ones by what is in them, not by where each line is.
func TestDrawingsKeepTheirStructure(t *testing.T) {
	const kept = "../../testdata/drawing/structure.txt"
	var b strings.Builder
	for _, st := range states() {
		if !strings.HasSuffix(st.file, "-usual") {
			continue
		}
		p, err := drawing.Of(st.row, st.n)
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(outline(p))
	}
	if *update {
		if err := os.WriteFile(kept, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	if diff := gocmp.Diff(strings.Split(string(want), "\n"), strings.Split(b.String(), "\n")); diff != "" {
		t.Errorf("the drawings are others than those kept in testdata/drawing (-kept +drawn); look at them with -pictures FOLDER, then keep them with -update:\n%s", diff)
	}
}

func TestWhatARowDoesNotHaveIsRefused(t *testing.T) {
	for _, c := range []struct {
		what string
		name string
		n    drawing.Numbers
		want string
	}{
		{"drawing", "carburettor", drawing.Numbers{}, `"carburettor"`},
		{"number", "deck", drawing.Numbers{Of: map[string]drawing.Number{"depth": {}}}, `it has no number "depth"; it has deck, arm`},
		{"number that is none", "deck", drawing.Numbers{Of: map[string]drawing.Number{"deck": {Value: math.NaN()}}}, `"deck" is NaN`},
		{"choice", "crank-float", drawing.Numbers{Is: map[string]string{"end": "left"}}, `it has no choice "end"; it has shims`},
		{"answer", "crank-float", drawing.Numbers{Is: map[string]string{"shims": "some"}}, `its shims is "some"; it is one of none, fitted`},
		{"move", "block-read", drawing.Numbers{Move: "sideways"}, `it shows away, towards`},
		{"bolts", "deck", drawing.Numbers{Bolts: []drawing.Bolt{{Name: "1"}}}, `it has no bolts`},
		{"bolt's place", "bolts", drawing.Numbers{Bolts: []drawing.Bolt{{Name: "1", X: math.Inf(1)}}}, `bolt "1" stands at +Inf`},
		{"pieces", "deck", drawing.Numbers{Pieces: []drawing.Piece{{No: 1}}}, `it shows no temporary pieces`},
	} {
		_, err := drawing.Of(c.name, c.n)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("a wrong %s: got error %v, want one that says %s", c.what, err, c.want)
		}
	}
}
