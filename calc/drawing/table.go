package drawing

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// Drive is one number that drives a drawing: how far it may go before it is drawn at its end, and where it stands when it
// is not known. In the base unit of its kind.
type Drive struct {
	Name               string
	Kind               quantity.Kind
	Least, Usual, Most float64
	Says               string
}

// Choice is a question with a few answers; the first holds where none is given.
type Choice struct {
	Name string
	Of   []string
	Says string
}

// Row is one drawing.
type Row struct {
	Name    string
	Says    string   // what is seen, without numbers
	Jobs    []string // the steps of the shipped plans that it belongs to, in the order of the work
	Live    string   // the number that the gauge of this job reads; empty where it reads none of them
	Drives  []Drive
	Choices []Choice
	Moves   []string // the moves that it can show
	Lights  []string // points whose names light something, as the plans name them
	Bolts   bool     // it is driven by Numbers.Bolts
	Pieces  bool     // it is driven by Numbers.Pieces
	Twin    TwinOnly // what of it is a parallel twin's; empty where it holds for any engine

	draw func(*scene)
}

// TwinOnly is what a drawing shows that a parallel twin alone has.
type TwinOnly string

// Two cylinders, left and right; guide blocks, one for each of those.
const (
	TwinCylinders TwinOnly = "cylinders"
	TwinBlocks    TwinOnly = "blocks"
)

// IsOf reports whether a drawing is of an engine with these cylinders and guide blocks: one that is of another would mislead.
func (r Row) IsOf(cylinders, blocks []string) bool {
	twin := []string{"left", "right"}
	switch r.Twin {
	case TwinCylinders:
		return slices.Equal(cylinders, twin)
	case TwinBlocks:
		return slices.Equal(blocks, twin)
	}
	return true
}

// Rows is the table of the drawings.
func Rows() []Row {
	return slices.Concat(blockRows(), crankRows(), boreRows(), topRows(), camRows(), headRows(), boltRows(), closingRows(), engineRows())
}

// Find gives a row by its name.
func Find(name string) (Row, bool) {
	for _, r := range Rows() {
		if r.Name == name {
			return r, true
		}
	}
	return Row{}, false
}

// For lists the drawings of a step of a shipped plan, the main one first.
func For(job string) []string {
	var names []string
	for _, r := range Rows() {
		if slices.Contains(r.Jobs, job) {
			names = append(names, r.Name)
		}
	}
	return names
}

// At chooses among the drawings of a job the one that knows most of a point's words, the main one where several know as many;
// "" where the job has none.
func At(job, point string) string {
	best, most := "", -1
	for _, r := range Rows() {
		if !slices.Contains(r.Jobs, job) {
			continue
		}
		known := slices.Concat(wordsOf(r.Name), wordsOf(strings.Join(r.Lights, ".")))
		n := 0
		for _, w := range wordsOf(point) {
			if slices.Contains(known, w) {
				n++
			}
		}
		if n > most {
			best, most = r.Name, n
		}
	}
	return best
}

// Of draws. It refuses with ErrUnknown a name that the table does not have, and with ErrRefused a number, choice or move that
// the row does not have, or a number that is not finite.
func Of(name string, n Numbers) (Picture, error) {
	r, ok := Find(name)
	if !ok {
		return Picture{}, fmt.Errorf("%w: %q; see Rows for those there are", ErrUnknown, name)
	}
	if err := r.check(n); err != nil {
		return Picture{}, err
	}
	if r.draw == nil {
		return Picture{}, fmt.Errorf("drawing %q %w: its row in the table has no function that draws it", name, ErrRefused)
	}
	s := newScene(r, n)
	r.draw(s)
	p := Picture{Name: r.Name, Says: s.words(), Elements: s.elements, Arrows: s.arrows}
	if n.Follow {
		p.Live = n.Of[r.Live].Text
	}
	return p, nil
}
