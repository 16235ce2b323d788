package plan

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"thoud/calc/quantity"
)

// A derived value follows from other engine data by a formula of names, numbers, "+", "-", "*" and "/", without
// brackets; products go first. Every term has one kind, which is the value's own: "stroke / 2", "bore * ring_share",
// "squish_least - gasket - recess".

// term is one product of a formula.
type term struct {
	sign    float64
	factors []factor
}

// factor is a number or the name of engine data, multiplied or divided by.
type factor struct {
	name   string
	number float64
	divide bool
}

// derivedFrom is engine data that waits for others to be read.
type derivedFrom struct {
	name  string
	at    pos
	where string
	terms []term
}

// datumDerived reads derived and gives 1 where it is there; the value is worked out once all data are read.
func (d *draft) datumDerived(t *table, data *Datum) int {
	n := t.get("derived")
	if n == nil {
		return 0
	}
	data.Derived = t.prose(n, "derived", longLine)
	terms, err := parseFormula(data.Derived)
	if err != nil {
		t.fault(n.pos, "derived: %v", err)
		return 1
	}
	d.derived = append(d.derived, derivedFrom{data.Name, n.pos, t.where, terms})
	return 1
}

// derive works out the derived data, in any order; a circle, or a name that is no quantity, is a fault.
func (d *draft) derive() {
	for left := len(d.derived); ; {
		var waiting []derivedFrom
		for _, f := range d.derived {
			if why, wait := d.deriveOne(f); wait {
				waiting = append(waiting, f)
			} else if why != "" {
				d.fs.add(f.at, f.where, "derived: %s", why)
			}
		}
		if d.derived = waiting; len(waiting) == 0 || len(waiting) == left {
			break
		}
		left = len(waiting)
	}
	for _, f := range d.derived {
		d.fs.add(f.at, f.where, "derived: these values follow from each other in a circle")
	}
}

// deriveOne works out one value; wait says that another derived one must come first.
func (d *draft) deriveOne(f derivedFrom) (why string, wait bool) {
	i := slices.IndexFunc(d.Engine, func(e Datum) bool { return e.Name == f.name })
	for _, name := range names(f.terms) {
		other, ok := d.Datum(name)
		switch {
		case !ok:
			return fmt.Sprintf("there is no [engine.%s]%s", name, meant(name, d.engineNames())), false
		case !other.Value.Valid() && slices.ContainsFunc(d.derived, func(o derivedFrom) bool { return o.name == name }):
			return "", true
		case !other.Value.Valid():
			return fmt.Sprintf("[engine.%s] is not a single quantity", name), false
		}
	}
	v, err := evaluate(f.terms, d.Engine[i].Kind, d.Datum)
	if err != nil {
		return err.Error(), false
	}
	d.Engine[i].Value, d.Engine[i].Kind = v, v.Kind()
	return "", false
}

func (d *draft) engineNames() []string {
	var all []string
	for _, e := range d.Engine {
		all = append(all, e.Name)
	}
	return all
}

// Derive works a derived value out anew from the values that hold in a build; it stays as it is where that fails.
func (d Datum) Derive(data func(name string) (Datum, bool)) Datum {
	terms, err := parseFormula(d.Derived)
	if d.Derived == "" || err != nil {
		return d
	}
	if v, err := evaluate(terms, d.Kind, data); err == nil {
		d.Value = v
	}
	return d
}

// DerivedFrom lists the names of the data that a derived value follows from; nil for one that is given.
func (d Datum) DerivedFrom() []string {
	terms, err := parseFormula(d.Derived)
	if d.Derived == "" || err != nil {
		return nil
	}
	return names(terms)
}

func names(terms []term) []string {
	var out []string
	for _, t := range terms {
		for _, f := range t.factors {
			if f.name != "" && !slices.Contains(out, f.name) {
				out = append(out, f.name)
			}
		}
	}
	return out
}

// formulaWords parts a formula at its blanks and signs; a hyphen within a name is none.
func formulaWords(s string) []string {
	var words []string
	from := -1
	for i, c := range s {
		sign := formulaSigns[c]
		if sign == "" && !unicode.IsSpace(c) {
			if from < 0 {
				from = i
			}
			continue
		}
		if from >= 0 {
			words, from = append(words, s[from:i]), -1
		}
		if sign != "" {
			words = append(words, sign)
		}
	}
	if from >= 0 {
		words = append(words, s[from:])
	}
	return words
}

var formulaSigns = map[rune]string{'+': "+", '*': "*", '/': "/", '−': "-"}

// parseFormula takes a formula apart.
func parseFormula(s string) ([]term, error) {
	words := formulaWords(s)
	var terms []term
	cur := term{sign: 1}
	wantOperand, divide := true, false
	for i, w := range words {
		switch {
		case wantOperand && w == "-" && len(cur.factors) == 0 && i == 0:
			cur.sign = -1
		case wantOperand:
			f := factor{divide: divide}
			if x, _, err := quantity.ParseDecimal(w); err == nil {
				_, places, _ := quantity.ParseDecimal(w)
				f.number = quantity.Value{N: x, Places: places, Unit: quantity.Base(quantity.Number)}.Float()
			} else if isName(w, "_") {
				f.name = w
			} else {
				return nil, fmt.Errorf("%s is neither a number nor the name of engine data", quoted(w))
			}
			cur.factors = append(cur.factors, f)
			wantOperand, divide = false, false
		case w == "*" || w == "/":
			wantOperand, divide = true, w == "/"
		case w == "+" || w == "-":
			terms = append(terms, cur)
			cur, wantOperand = term{sign: map[string]float64{"+": 1, "-": -1}[w]}, true
		default:
			return nil, fmt.Errorf("%s: want +, -, * or / between two values, with blanks around -", quoted(w))
		}
	}
	if wantOperand {
		return nil, fmt.Errorf("the formula %s ends too early", quoted(s))
	}
	return append(terms, cur), nil
}

// evaluate works a formula out in base units and writes the value in the unit of the first datum of its kind.
func evaluate(terms []term, kind quantity.Kind, data func(string) (Datum, bool)) (quantity.Value, error) {
	sum := 0.0
	var shown shownAs
	for _, t := range terms {
		x, of, err := t.product(data, &shown)
		if err != nil {
			return quantity.Value{}, err
		}
		if kind == "" {
			kind = of
		}
		if of != kind {
			return quantity.Value{}, fmt.Errorf("a %s can't be added to a %s", of, kind)
		}
		sum += x
	}
	if shown.unit == (quantity.Unit{}) {
		shown.unit = quantity.Base(kind)
	}
	return rounded(sum, kind, shown.unit, min(shown.places+3, 6))
}

// shownAs is how a worked-out value is written: in the unit of the first datum that has one, as fine as the finest.
type shownAs struct {
	unit   quantity.Unit
	places int
}

// product multiplies a term out, in base units, and finds its kind: that of its one factor with a kind, or a number.
func (t term) product(data func(string) (Datum, bool), shown *shownAs) (float64, quantity.Kind, error) {
	x, of := t.sign, quantity.Number
	for _, f := range t.factors {
		v := f.number
		if f.name != "" {
			d, ok := data(f.name)
			if !ok || !d.Value.Valid() {
				return 0, of, fmt.Errorf("there is no single quantity %s", quoted(f.name))
			}
			v = d.Value.Float()
			var err error
			if of, err = f.kind(of, d.Value, shown); err != nil {
				return 0, of, err
			}
			shown.places = max(shown.places, d.Value.Places)
		}
		if !f.divide {
			x *= v
			continue
		}
		if v == 0 {
			return 0, of, fmt.Errorf("%s is nothing; nothing can be divided by it", quoted(f.name))
		}
		x /= v
	}
	return x, of, nil
}

// kind is what a product of one kind becomes by a factor.
func (f factor) kind(of quantity.Kind, v quantity.Value, shown *shownAs) (quantity.Kind, error) {
	k := v.Kind()
	switch {
	case k == quantity.Number:
		return of, nil
	case f.divide && of == k:
		return quantity.Number, nil
	case !f.divide && of == quantity.Number:
		if shown.unit == (quantity.Unit{}) {
			shown.unit = v.Unit
		}
		return k, nil
	}
	return of, fmt.Errorf("a product of %s and %s has no kind here", of, k)
}

// rounded writes a number of base units with so many places of a unit.
func rounded(x float64, kind quantity.Kind, unit quantity.Unit, places int) (quantity.Value, error) {
	text := fmt.Sprintf("%.*f %s", places, unit.FromBase(x), unit.Code)
	if kind == quantity.Number {
		text = fmt.Sprintf("%.*f", places, x)
	}
	if strings.Contains(text, ".") {
		number, rest, _ := strings.Cut(text, " ")
		number = strings.TrimRight(strings.TrimRight(number, "0"), ".")
		text = strings.TrimSpace(number + " " + rest)
	}
	v, err := quantity.ParseAs(kind, text)
	if err != nil {
		return v, fmt.Errorf("%s: %w", text, err)
	}
	return v, nil
}
