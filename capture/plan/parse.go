package plan

import (
	"path"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// The most that a plan may hold once it is written out.
const (
	maxPoints = 2000
	maxSteps  = 500
	maxParts  = 16 // cylinders, and valves of a cylinder
	maxData   = 500
)

// Parse reads a plan file, writes out what it says for every cylinder and valve, and checks the whole. The error is
// Faults: everything that is wrong, each with its line and column; then the plan is nil. The plan is named for the
// file, without folder and ".toml".
func Parse(name string, text []byte) (*Plan, error) {
	return parse(text, calc.Methods(), &faults{file: name})
}

// ParseKept reads the text that a build keeps. It was taken when the build began, so what later versions came to refuse
// (a gauge role that is in no table) is no fault of it; all else is as in Parse.
func ParseKept(name string, text []byte) (*Plan, error) {
	return ParseAnswered(name, text, nil)
}

// draft is a plan being read.
type draft struct {
	*Plan
	fs       *faults
	methods  map[string]calc.Method
	steps    []*stepDraft
	byID     map[string]int  // the first step of each id
	dataAt   map[string]pos  // where its value is written
	leftData map[string]bool // engine data that the variants leave out
	derived  []derivedFrom
	changes  []*change
	points   int // written out so far
	full     bool
	work     int // points looked at for references

	given     map[string]string   // answers to the plan's questions
	asks      map[string]askDraft // the questions, found before the steps are read
	askedIn   map[string]string   // the step that puts a question
	leftBy    map[string][]string // steps that an answer leaves out, and by which questions
	fileStep  int                 // the step of the file that is being read, −1 before the first
	wholeStep bool                // whether that step stands at all is being looked at
	usedAsks  []string            // questions that decided something since this was emptied
}

// stepDraft is a step written out, with its place in the file.
type stepDraft struct {
	Step
	n       *node
	where   string // in messages
	written string // the id as it stands in the file, the same for all that were expanded from it
	vars    vars
	places  []pos    // of the points
	left    []*node  // points that the variants leave out
	from    []source // where the computations stand, Compute first
	needAt  []pos    // of the needs, once they are written out
	// Needs as they stand in the file: which of the list, and those of one cylinder with the places of what they become.
	needFrom []int
	needs    []string // as they are written, those of steps left out too
	asked    []string // questions that decide something in it
	sides    []sideDraft
	sideAt   []pos
}

func parse(text []byte, methods []calc.Method, fs *faults) (*Plan, error) {
	return parseAnswered(text, methods, fs, nil)
}

// parseAnswered is parse with the plan's questions answered.
func parseAnswered(text []byte, methods []calc.Method, fs *faults, given map[string]string) (*Plan, error) {
	root := parseTree(text, fs)
	if root == nil {
		return nil, fs.err()
	}
	return readAnswered(root, text, methods, fs, given)
}

// readAnswered reads a plan of its text's tree, which it leaves as it is: the same tree serves every way of answering.
func readAnswered(root *node, text []byte, methods []calc.Method, fs *faults, given map[string]string) (*Plan, error) {
	d := &draft{Plan: &Plan{Name: strings.TrimSuffix(path.Base(fs.file), ".toml"), Text: text}, fs: fs, methods: map[string]calc.Method{}, leftData: map[string]bool{}, dataAt: map[string]pos{},
		given: given, askedIn: map[string]string{}, leftBy: map[string][]string{}, fileStep: -1}
	for _, m := range methods {
		d.methods[m.Name] = m
	}
	t := newTable(root, fs, "", nil).as(keyTable("plan"))
	t.need("title", "what is built, in a few words")
	d.Title = t.line("title")
	t.need("version", "1, and one more whenever the plan changes")
	d.Version = t.count("version", 1, 1, 1_000_000)
	d.Cautions = t.texts("cautions", longText)
	if g := t.amount("guard", quantity.Number); g.Valid() {
		if d.Guard = g.Float(); d.Guard < 0 || d.Guard > 2 {
			t.fault(t.get("guard").pos, "guard %s: want a multiple of U from 0 to 2", g)
		}
	}
	t.need("cylinders", "as seen from the rider's seat, left first")
	d.Cylinders = d.parts(t, "cylinders")
	d.Valves = d.parts(t, "valves")
	d.readVariants(t)
	d.readNever(t)
	d.readBlocks(t)
	d.findAsks(root)
	d.readEngine(t)
	d.derive()
	d.readChanges(t)
	d.readSteps(t)
	d.checkChanges()
	d.place()
	t.done()
	d.check()
	if err := fs.err(); err != nil {
		return nil, err
	}
	for _, s := range d.steps {
		d.Plan.Steps = append(d.Plan.Steps, s.Step)
	}
	d.findTaken()
	d.Firsts = map[string]string{}
	for id, a := range d.asks {
		d.Firsts[id] = a.unanswered()
	}
	return d.Plan, nil
}

// parts reads the names of the cylinders or of the valves.
func (d *draft) parts(t *table, key string) []string {
	var out []string
	for i, n := range t.list(key, formText) {
		if i == maxParts {
			t.fault(n.pos, "%s has more than %d names", key, maxParts)
			break
		}
		name := t.name(n, key, "-")
		if slices.Contains(out, name) {
			t.fault(n.pos, "%s names %s twice", key, quoted(name))
			continue
		}
		if name != "" {
			out = append(out, name)
		}
	}
	if n := t.n.get(key); n != nil && n.form == formList && len(n.items) == 0 {
		t.fault(n.pos, "%s is empty", key)
	}
	return out
}
