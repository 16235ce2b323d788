package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
)

// cloneVals copies the values deeply, so that numbers can be moved without touching the caller's.
func cloneVals(vals map[string]Val) map[string]Val {
	out := make(map[string]Val, len(vals))
	for name, v := range vals {
		if v.Num != nil {
			n := *v.Num
			v.Num = &n
		}
		v.List = slices.Clone(v.List)
		v.Grid = cloneGrid(v.Grid)
		v.Cube = slices.Clone(v.Cube)
		for i := range v.Cube {
			v.Cube[i] = cloneGrid(v.Cube[i])
		}
		if v.Rec != nil {
			v.Rec = cloneVals(v.Rec)
		}
		v.Recs = slices.Clone(v.Recs)
		for i := range v.Recs {
			v.Recs[i] = cloneVals(v.Recs[i])
		}
		out[name] = v
	}
	return out
}

func cloneGrid(g [][]Num) [][]Num {
	g = slices.Clone(g)
	for i := range g {
		g[i] = slices.Clone(g[i])
	}
	return g
}

// source is one independent cause of uncertain: one number's own components, or one shared error on several numbers.
type source struct {
	name  string
	nums  []*Num
	steps []float64 // standard uncertainty of each number from this source
	parts []part    // what the source is made of
	floor []bool    // the number must stay above zero
	inRow bool      // member of a list or grid
	own   bool      // one number's independent components
	fits  []*fitUse // the fits that read it
	alone *fitUse   // the fit whose scatter this source is

	bySigns bool   // one of the joint moves that stand for many members
	key, of string // of a shared error: its key, and what it is called
}

type part struct{ share, dof float64 } // share of the source's step; dof 0 is infinite

// collector finds every number that carries an uncertainty, in a fixed order.
type collector struct {
	sources []source
	shared  map[string]int // key → index of its source
}

func collectSources(inputs []Input, vals map[string]Val) []source {
	c := collector{shared: map[string]int{}}
	c.vals(inputs, vals, "")
	return c.sources
}

func (c *collector) vals(inputs []Input, vals map[string]Val, path string) {
	for _, name := range Sorted(vals) {
		in, _ := FindInput(inputs, name)
		v := vals[name]
		at := path + name
		if v.Num != nil {
			c.num(v.Num, in.Positive, false, at)
		}
		c.row(v.List, in.Positive, at)
		for i := range v.Grid {
			c.row(v.Grid[i], in.Positive, fmt.Sprintf("%s[%d]", at, i))
		}
		for i := range v.Cube {
			for j := range v.Cube[i] {
				c.row(v.Cube[i][j], in.Positive, fmt.Sprintf("%s[%d][%d]", at, i, j))
			}
		}
		if v.Rec != nil {
			c.vals(in.Fields, v.Rec, at+".")
		}
		for i := range v.Recs {
			c.vals(in.Fields, v.Recs[i], fmt.Sprintf("%s[%d].", at, i))
		}
	}
}

func (c *collector) row(ns []Num, positive bool, path string) {
	for i := range ns {
		if len(ns[i].Us) > 0 {
			c.num(&ns[i], positive, true, path+"["+strconv.Itoa(i)+"]")
		}
	}
}

func (c *collector) num(n *Num, positive, inRow bool, path string) {
	step := 0.0
	for _, k := range n.Us {
		if k.U > 0 && k.Shared == "" {
			step = math.Hypot(step, k.U)
		}
	}
	var own source
	if step > 0 {
		room := &ownRoom{nums: [1]*Num{n}, floor: [1]bool{positive}, steps: [1]float64{step}}
		own = source{name: path, nums: room.nums[:], floor: room.floor[:], steps: room.steps[:], parts: room.parts[:0], inRow: inRow, own: true}
	}
	for _, k := range n.Us {
		switch {
		case k.U == 0:
		case k.Shared == "":
			own.parts = append(own.parts, part{k.U / step, k.Dof})
		default:
			c.share(n, k, positive, path)
		}
	}
	if step > 0 {
		c.sources = append(c.sources, own)
	}
}

// ownRoom is where the lists of a number's own source lie: most are of one.
type ownRoom struct {
	nums  [1]*Num
	floor [1]bool
	steps [1]float64
	parts [3]part
}

// share adds a number to the source of a common error. The errors add with their signs, so a difference of two
// readings from one master is free of it. Its degrees of freedom are the least of those stated.
func (c *collector) share(n *Num, k Component, positive bool, path string) {
	i, ok := c.shared[k.Shared]
	if !ok {
		i = len(c.sources)
		c.shared[k.Shared] = i
		c.sources = append(c.sources, source{name: path, parts: []part{{1, k.Dof}}, key: k.Shared, of: k.Name})
	}
	s := &c.sources[i]
	s.nums = append(s.nums, n)
	s.steps = append(s.steps, k.U)
	s.floor = append(s.floor, positive)
	if k.Dof > 0 && (s.parts[0].dof == 0 || k.Dof < s.parts[0].dof) {
		s.parts[0].dof = k.Dof
	}
}

// bySigns replaces the many independent members of lists by a few joint moves with random signs: the mean square of a
// figure's response to them is Σ (c·u)² as well, to about 15 % of u with 24 patterns. A sweep of a thousand samples would
// otherwise cost two thousand runs. The signs come from a fixed seed, so that the same inputs give the same U. Together
// they count with the least degrees of freedom of the members, which is on the safe side.
func bySigns(sources []source) (all []source, dof float64) {
	var few, many []source
	for _, s := range sources {
		if s.inRow && len(s.nums) == 1 {
			many = append(many, s)
		} else {
			few = append(few, s)
		}
	}
	signs := rand.New(rand.NewPCG(1, 720))
	scale := 1 / math.Sqrt(signPatterns)
	for range signPatterns {
		joint := source{name: "the readings", bySigns: true}
		for _, s := range many {
			sign := 1.0
			if signs.Uint64()&1 == 0 {
				sign = -1
			}
			joint.nums = append(joint.nums, s.nums[0])
			joint.steps = append(joint.steps, sign*scale*s.steps[0])
			joint.floor = append(joint.floor, s.floor[0])
			for _, p := range s.parts {
				if p.dof > 0 && (dof == 0 || p.dof < dof) {
					dof = p.dof
				}
			}
		}
		few = append(few, joint)
	}
	return few, dof
}
