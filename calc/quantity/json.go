package quantity

import (
	"encoding/json"
	"fmt"
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
	if w.Places < 0 || w.Places > mostPlaces {
		return fmt.Errorf("quantity: %d decimal places: %w", w.Places, ErrRange)
	}
	var u Unit
	var err error
	if len(w.Unit) > 6 && w.Unit[:6] == "pitch:" {
		u, err = UnitFor(Pitch, w.Unit[6:])
	} else {
		u, err = UnitOf(w.Unit)
	}
	if err != nil {
		return fmt.Errorf("quantity: %w", err)
	}
	*v = Value{N: w.N, Places: w.Places, Unit: u}
	return nil
}
