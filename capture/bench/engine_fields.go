package bench

import (
	"slices"
	"strings"

	"thoud/capture/plan"
)

// EngineField is a word that an engine's record has a place for, whatever its plans say: whose it is, its numbers, who
// builds it.
type EngineField struct {
	Name  string
	Title string
}

// EngineFields lists them in the order in which they are shown. Besides these a record holds the mark and the serial
// number of any part, under the names "mark_PART" and "serial_PART".
func EngineFields() []EngineField {
	return []EngineField{
		{"engine_number", "Engine number"},
		{"frame_number", "Frame number"},
		{"customer", "Customer"},
		{"shop", "Shop"},
		{"builder", "Builder"},
	}
}

// The beginnings of the names of parts' marks and serial numbers.
const (
	MarkField   = "mark_"
	SerialField = "serial_"
)

// FieldOf finds the field of a name: one of the table, or a part's mark or serial number.
func FieldOf(name string) (EngineField, bool) {
	fields := EngineFields()
	if i := slices.IndexFunc(fields, func(f EngineField) bool { return f.Name == name }); i >= 0 {
		return fields[i], true
	}
	for begins, words := range map[string]string{MarkField: "Mark of the ", SerialField: "Serial number of the "} {
		if part, ok := strings.CutPrefix(name, begins); ok && part != "" {
			return EngineField{name, words + strings.ReplaceAll(part, "_", " ")}, true
		}
	}
	return EngineField{}, false
}

// recordField gives a field of the engine's record that the plan does not have as data.
func (b *Build) recordField(name string) (plan.Datum, bool) {
	f, ok := FieldOf(name)
	v, kept := b.Record.Value(name)
	if !ok || !kept || v.Word == "" {
		return plan.Datum{}, false
	}
	return plan.Datum{Name: name, Title: f.Title, Word: v.Word, Source: v.Source, Confirm: v.Open}, true
}

// Fields lists the fields of the engine's record that the plan does not have as data, in the order of the table, then the
// parts by name.
func (b *Build) Fields() []plan.Datum {
	if b.Record == nil {
		return nil
	}
	var names []string
	for _, f := range EngineFields() {
		names = append(names, f.Name)
	}
	for _, v := range b.Record.Values {
		if !slices.Contains(names, v.Name) {
			names = append(names, v.Name)
		}
	}
	var out []plan.Datum
	for _, name := range names {
		if _, planned := b.Plan.Datum(name); planned {
			continue
		}
		if d, ok := b.recordField(name); ok {
			out = append(out, d)
		}
	}
	return out
}
