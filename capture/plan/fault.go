package plan

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"
)

// Fault is one thing wrong in a plan file.
type Fault struct {
	File   string `json:"file"`
	Line   int    `json:"line"`   // from 1
	Column int    `json:"column"` // in bytes, from 1
	Path   string `json:"path"`   // as written in the file: "step[3].compute.inputs.gap"
	What   string `json:"what"`   // what is wrong, with the value, and what was expected
}

// Error gives the fault as "name:12:5: step "bore": what".
func (f Fault) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", f.File, f.Line, f.Column, f.What)
}

// Faults is everything wrong in a plan file, in the order of the file; it is the error of Parse.
type Faults []Fault

// Error lists every fault, one a line.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = f.Error()
	}
	return strings.Join(lines, "\n")
}

// maxFaults is where a list of faults ends: beyond it nobody reads on, and a hostile file could ask for millions.
const maxFaults = 200

// pos is a place in the file.
type pos struct {
	line, col int
	path      string
}

// faults collects what is found. The same words at the same place are kept once, so that a step written for every
// cylinder does not repeat its faults.
type faults struct {
	file string
	list Faults
	seen map[string]bool
	kept bool // the text was taken by an earlier version
	// everyAnswer: where an answer stands in an input, what each of its choices gives is looked at too.
	everyAnswer bool
	// answers are the places where an answer decided what stands.
	answers map[pos]bool
}

// clone gives the same faults, to be added to apart from these.
func (fs *faults) clone() *faults {
	return &faults{file: fs.file, list: slices.Clone(fs.list), seen: maps.Clone(fs.seen), kept: fs.kept}
}

// add notes a fault; where is the step, point or table it belongs to, "" at the top.
func (fs *faults) add(p pos, where, format string, args ...any) {
	if fs.full() {
		return
	}
	what := fmt.Sprintf(format, args...)
	key := fmt.Sprint(p.line, ":", p.col, ":", what)
	if fs.seen[key] {
		return
	}
	if fs.seen == nil {
		fs.seen = map[string]bool{}
	}
	fs.seen[key] = true
	if len(fs.list) == maxFaults {
		fs.list = append(fs.list, Fault{fs.file, p.line, p.col, p.path, "more faults follow; mend these first"})
		return
	}
	if where != "" {
		what = where + ": " + what
	}
	fs.list = append(fs.list, Fault{fs.file, p.line, p.col, p.path, what})
}

// full reports whether no more faults are kept.
func (fs *faults) full() bool { return len(fs.list) > maxFaults }

// err gives the faults in the order of the file, or nil.
func (fs *faults) err() error {
	if len(fs.list) == 0 {
		return nil
	}
	sort.SliceStable(fs.list, func(i, j int) bool {
		a, b := fs.list[i], fs.list[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Column < b.Column
	})
	return fs.list
}
