package sheet

import (
	"reflect"
	"strings"

	"thoud/capture/bench"
)

// Clean gives the sheet as people may read it: no text of it, of a gauge, a plan or an older ledger, acts on what shows
// it. The JSON form keeps texts as they are in the ledger.
func Clean(s Sheet) Sheet {
	out := s
	clean(reflect.ValueOf(&out).Elem())
	if s.Note != nil { // its lines stay lines
		lines := strings.Split(s.Note.Text, "\n")
		for i := range lines {
			lines[i] = bench.CleanText(lines[i])
		}
		out.Note.Text = strings.Join(lines, "\n")
	}
	return out
}

// clean cleans every text in a value that is a copy of its own, but for what it points to: of that it makes a copy first.
func clean(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(bench.CleanText(v.String()))
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Field(i); f.CanSet() && mayHoldText(f.Kind()) {
				clean(f)
			}
		}
	case reflect.Slice:
		if v.IsNil() || v.Len() > 0 && !mayHoldText(v.Type().Elem().Kind()) {
			return
		}
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		reflect.Copy(out, v)
		for i := range out.Len() {
			clean(out.Index(i))
		}
		v.Set(out)
	case reflect.Pointer:
		if !v.IsNil() && mayHoldText(v.Type().Elem().Kind()) {
			p := reflect.New(v.Type().Elem())
			p.Elem().Set(v.Elem())
			clean(p.Elem())
			v.Set(p)
		}
	}
}

// mayHoldText reports whether a value of a kind can have a text in it.
func mayHoldText(k reflect.Kind) bool {
	return k == reflect.String || k == reflect.Struct || k == reflect.Slice || k == reflect.Pointer
}
