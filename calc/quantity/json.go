package quantity

import (
	"encoding/json"
	"fmt"

	"thoud/calc/plainjson"
)

// wire is the stored form of a Value: text for people and for exactness, as sent.
type wire struct {
	N      int64  `json:"n"`
	Places int    `json:"places"`
	Unit   string `json:"unit"`
}

// MarshalJSON stores the value exactly: {"n": 9525000, "places": 4, "unit": "in"}; n counts tenths of a nanometre for
// lengths and the digits as sent for every other kind.
func (v Value) MarshalJSON() ([]byte, error) {
	if !v.Valid() {
		return []byte("null"), nil
	}
	code := v.Unit.Code
	if v.Unit.Kind == Pitch && code != "tpi" {
		code = "pitch:" + code
	}
	return json.Marshal(wire{v.N, v.Places, code})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (v *Value) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*v = Value{}
		return nil
	}
	var w wire
	if err := json.Unmarshal(b, &w); err != nil {
		return fmt.Errorf("quantity: %w", err)
	}
	read, err := w.value()
	if err != nil {
		return err
	}
	*v = read
	return nil
}

// value is what the stored form stands for.
func (w wire) value() (Value, error) {
	if w.Places < 0 || w.Places > mostPlaces {
		return Value{}, fmt.Errorf("quantity: %d decimal places: %w", w.Places, ErrRange)
	}
	var u Unit
	var err error
	if len(w.Unit) > 6 && w.Unit[:6] == "pitch:" {
		u, err = UnitFor(Pitch, w.Unit[6:])
	} else {
		u, err = UnitOf(w.Unit)
	}
	if err != nil {
		return Value{}, fmt.Errorf("quantity: %w", err)
	}
	return Value{N: w.N, Places: w.Places, Unit: u}, nil
}

// Field reads a field that is a value, where it is next; one that UnmarshalJSON would fault is refused.
func Field(r *plainjson.Reader, name string, to *Value) {
	if r.Field(name) {
		*to = readValue(r)
	}
}

// MaybeField is Field for a value that may not be there.
func MaybeField(r *plainjson.Reader, name string, to **Value) {
	if r.Field(name) && !r.Null() {
		v := readValue(r)
		*to = &v
	}
}

func readValue(r *plainjson.Reader) Value {
	if r.Null() {
		return Value{}
	}
	var w wire
	r.Begin()
	r.Count("n", &w.N)
	plainjson.Whole(r, "places", &w.Places)
	plainjson.Text(r, "unit", &w.Unit)
	r.End()
	v, err := w.value()
	if err != nil {
		r.Refuse()
	}
	return v
}
