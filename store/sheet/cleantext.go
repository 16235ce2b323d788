package sheet

import (
	"reflect"
	"strings"

	"thoud/capture/bench"
)

// Clean gives the sheet as people may read it: no text of it, of a gauge, a plan or an older ledger, acts on what shows
// it. The JSON form keeps texts as they are in the ledger.
func Clean(s Sheet) Sheet {
	out := cleaned(reflect.ValueOf(s)).Interface().(Sheet)
	if s.Note != nil { // its lines stay lines
		lines := strings.Split(s.Note.Text, "\n")
		for i := range lines {
			lines[i] = bench.CleanText(lines[i])
		}
		out.Note.Text = strings.Join(lines, "\n")
	}
	return out
}

// cleaned copies a value and cleans every text in it.
func cleaned(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	out.Set(v)
	switch v.Kind() {
	case reflect.String:
		out.SetString(bench.CleanText(v.String()))
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(cleaned(v.Field(i)))
			}
		}
	case reflect.Slice:
		if v.IsNil() || v.Type().Elem().Kind() == reflect.Uint8 {
			break
		}
		out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		for i := range v.Len() {
			out.Index(i).Set(cleaned(v.Index(i)))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			p := reflect.New(v.Type().Elem())
			p.Elem().Set(cleaned(v.Elem()))
			out.Set(p)
		}
	}
	return out
}
