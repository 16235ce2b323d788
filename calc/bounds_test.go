package calc

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"syscall"
	"testing"
	"time"

	"thoud/calc/quantity"
)

// patience is how long one computation may keep the processor.
const patience = time.Second

// worked is how long this process has had a processor, in all its threads (getrusage(2)): other than the wall's time it does
// not grow on a machine that is busy with something else.
func worked(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// largest makes the largest inputs that are taken: numbers in even steps, from anywhere, from a few values, or absurd.
type largest struct {
	rng  *rand.Rand
	sort int
}

func (l largest) num(in Input, i int) Num {
	x := []float64{float64(i) * 0.5, l.rng.Float64() * 100, 1 + float64(i%7), (l.rng.Float64() - 0.5) * 2e12}[l.sort]
	if in.Shape == Scalar {
		x = []float64{20, 5, 80, 1e12}[l.sort]
	}
	if in.Positive && x <= 0 {
		x = 1 + l.rng.Float64()
	}
	return Num{X: x, Us: []Component{{Name: "resolution", U: 0.01}}}
}

func (l largest) row(in Input, n int) []Num {
	out := make([]Num, n)
	for i := range out {
		out[i] = l.num(in, i)
	}
	return out
}

func (l largest) val(in Input, n int) Val {
	if in.Most > 0 {
		n = min(n, in.Most)
	}
	var v Val
	switch in.Shape {
	case Scalar:
		x := l.num(in, 0)
		v.Num = &x
	case List:
		v.List = l.row(in, n)
	case Grid:
		for range n / 2 {
			v.Grid = append(v.Grid, l.row(in, 2))
		}
	case Cube:
		for range n / 4 {
			v.Cube = append(v.Cube, [][]Num{l.row(in, 2), l.row(in, 2)})
		}
	case Text:
		v.Text = "M10x1.25"
		if len(in.Enum) > 0 {
			v.Text = in.Enum[l.rng.IntN(len(in.Enum))]
		}
	case TextList:
		for i := range n {
			v.Texts = append(v.Texts, fmt.Sprint(i))
		}
		if len(in.Enum) > 0 {
			v.Texts = in.Enum
		}
	case Flag:
		yes := l.rng.IntN(2) == 0
		v.Flag = &yes
	case Record:
		v.Rec = l.vals(in.Fields, n)
	case Records:
		for range min(n, mostRecords) {
			v.Recs = append(v.Recs, l.vals(in.Fields, 2))
		}
	}
	return v
}

func (l largest) vals(inputs []Input, n int) map[string]Val {
	out := map[string]Val{}
	for _, in := range inputs {
		switch {
		case in.Name == AnyName:
			for i := range 3 {
				out[fmt.Sprint(i)] = l.val(in, n)
			}
		case !in.Optional || in.Shape == List || l.rng.IntN(2) == 0:
			out[in.Name] = l.val(in, n)
		}
	}
	return out
}

// Whatever the numbers and however many: every method answers, or says in words why not, in a second.
func TestEveryMethodEndsSoon(t *testing.T) {
	for _, m := range Methods() {
		t.Run(m.Name, func(t *testing.T) {
			for sort := range 4 {
				l := largest{rand.New(rand.NewPCG(uint64(sort), 16)), sort}
				req := Request{Method: m.Name, Kind: quantity.Length, Inputs: l.vals(m.Inputs, mostMembers)}
				start := worked(t)
				res, err := Run(req)
				if took := worked(t) - start; took > patience {
					t.Errorf("numbers of sort %d: %v", sort, took)
				}
				if strings.Contains(res.Refused, "computation failed") {
					t.Errorf("numbers of sort %d: %s", sort, res.Refused)
				}
				if err != nil && err.Error() == "" {
					t.Errorf("numbers of sort %d: a fault without words", sort)
				}
			}
		})
	}
}

// More than that is refused by name, before anything is computed.
func TestTooMuchIsRefused(t *testing.T) {
	long := make([]Num, mostMembers+1)
	page := make([]Num, mostMembers/2+1)
	recs := make([]map[string]Val, mostRecords+1)
	for name, c := range map[string]struct {
		method string
		in     map[string]Val
		field  string
	}{
		"a list":     {"statistics", map[string]Val{"values": {List: long}}, "values"},
		"a grid":     {"circle-fit", map[string]Val{"points": {Grid: [][]Num{page, page}}}, "points"},
		"a cube":     {"gauge-study", map[string]Val{"readings": {Cube: [][][]Num{{page}, {page}}}}, "readings"},
		"records":    {"assign", map[string]Val{"parts": {Recs: recs}}, "parts"},
		"its own":    {"clearance-stops", map[string]Val{"push": {List: long[:101]}}, "push"},
		"all in all": {"anova", map[string]Val{"groups": {Rec: map[string]Val{"a": {List: long[1:]}, "b": {List: long[1:]}, "c": {List: long[1:]}, "d": {List: long[1:]}}}}, "input"},
		"in a group": {"anova", map[string]Val{"groups": {Rec: map[string]Val{"a": {List: long}}}}, "groups.a"},
	} {
		_, err := Run(Request{Method: c.method, Inputs: c.in})
		var bad *InputError
		if !errors.As(err, &bad) || bad.Field != c.field || !strings.Contains(bad.Want, "at most") {
			t.Errorf("%s: %v, want a fault of %s", name, err, c.field)
		}
	}
}
