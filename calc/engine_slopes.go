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

// Touches tells Run that only these numbers of a list can move any figure, the others none: of a sweep only the samples
// next to where something is looked up. Given more than once for an input, all of them count.
func (o *Out) Touches(input string, members []int) {
	if !o.wantSlopes {
		return
	}
	if o.touched == nil {
		o.touched = map[string]map[int]bool{}
	}
	if o.touched[input] == nil {
		o.touched[input] = map[int]bool{}
	}
	for _, i := range members {
		o.touched[input][i] = true
	}
}

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
	pr.idle = map[*Num]bool{}
	for input, touched := range pr.base.touched {
		for i, n := range membersOf(pr.work[input]) {
			pr.idle[n] = !touched[i]
		}
	}
}

// takeKnown takes in the sources whose effect the method gives, and those that have none; what is left needs computations.
func (pr *propagator) takeKnown() (rest []source) {
	for i := range pr.sources {
		s := &pr.sources[i]
		column, ok := pr.slopeOf(s.nums[0])
		switch {
		case len(s.nums) > 1, !ok && !pr.idle[s.nums[0]]:
			rest = append(rest, *s)
		case ok:
			for j := range pr.slots {
				pr.add(j, s, column(j)*s.steps[0], 0)
			}
		}
	}
	return rest
}
