package calc

// Slopes are the derivatives of a method's figures with respect to each number of one input. A method that takes a long
// list may give them, so that a sweep of a thousand samples costs one computation instead of four thousand. They must be
// those of the computation as it stands: a test holds every method's against differences. A figure without a row does not
// follow the input.
type Slopes struct{ rows map[slotName][]float64 }

type slotName struct {
	figure string
	at     int
}

// Slopes opens the table for an input, a list or a grid counted through; nil where Run does not ask for it, which is in
// every computation but the first.
func (o *Out) Slopes(input string) *Slopes {
	if !o.wantSlopes {
		return nil
	}
	if o.slopes == nil {
		o.slopes = map[string]*Slopes{}
	}
	s := &Slopes{rows: map[slotName][]float64{}}
	o.slopes[input] = s
	return s
}

// Set gives the row of a figure.
func (s *Slopes) Set(figure string, row []float64) { s.SetAt(figure, 0, row) }

// SetAt gives the row of the element of a figure of several values.
func (s *Slopes) SetAt(figure string, at int, row []float64) { s.rows[slotName{figure, at}] = row }

// slopeOf finds the derivatives with respect to one number; ok is false where the method gives none for its input.
func (pr *propagator) slopeOf(n *Num) (column func(slot int) float64, ok bool) {
	at, known := pr.members[n]
	if !known {
		return nil, false
	}
	s := pr.base.slopes[at.input]
	return func(slot int) float64 {
		sl := pr.slots[slot]
		row := s.rows[slotName{pr.m.Figures[sl.figure].Name, sl.at}]
		if at.member >= len(row) {
			return 0
		}
		return row[at.member]
	}, true
}

// member is where a number stands in its input.
type member struct {
	input  string
	member int
}

// findMembers remembers where the numbers stand whose slopes are known.
func (pr *propagator) findMembers() {
	pr.members = map[*Num]member{}
	for input := range pr.base.slopes {
		for i, n := range membersOf(pr.work[input]) {
			pr.members[n] = member{input, i}
		}
	}
}
