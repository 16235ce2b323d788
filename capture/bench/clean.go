package bench

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// How long texts may be, in bytes. A text of people is part of an entry for ever, is shown on pages and printed on
// sheets: one of a megabyte would make all of them useless. Where nothing stands here it is textMost.
const (
	textMost = 200
	planMost = 700 << 10 // a plan's text, so that its entry fits the bus
)

// lengths are the limits of the fields that are not textMost long, by their path in the verb's JSON.
func lengths() map[string]int {
	return map[string]int{
		"id": 64, "by": 64, "initials": 12, "gauge": 64, "reason": 1000, "build.job": 32, "build.engine": 80, "engine.engine": 80, "engine.from": 80, "build.text": planMost,
		"register.port": 255, "register.identity": 255,
	}
}

// verbatim are the texts that are kept word for word, and are checked by whoever reads them.
func verbatim(path string) bool { return path == "build.text" }

// Clean gives the verb as the ledger can keep it: texts without signs that would act on a terminal, a page or a
// spreadsheet, and not too long; a photo whole and without what the camera wrote beside it. Every way in goes through it
// once. An error names the field and says what is allowed.
func (v Verb) Clean() (Verb, error) {
	if err := cleanFields(reflect.ValueOf(&v).Elem(), ""); err != nil {
		return v, err
	}
	if v.Engine != nil {
		set, err := v.Engine.clean()
		if err != nil {
			return v, err
		}
		v.Engine = &set
	}
	if v.Picture == nil {
		return v, nil
	}
	p, err := v.Picture.clean()
	v.Picture = &p
	return v, err
}

// cleanFields cleans every text of a struct, and those of the structs in it. What a pointer shows to is copied: the
// verb's sender keeps its own.
func cleanFields(v reflect.Value, path string) error {
	t := v.Type()
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if name == "" {
			continue // not part of the JSON form: an exact quantity's own fields
		}
		if path != "" {
			name = path + "." + name
		}
		f := v.Field(i)
		if f.Kind() == reflect.Pointer {
			if f.IsNil() || f.Type().Elem().Kind() != reflect.Struct {
				continue
			}
			own := reflect.New(f.Type().Elem())
			own.Elem().Set(f.Elem())
			f.Set(own)
			f = own.Elem()
		}
		switch f.Kind() {
		case reflect.Struct:
			if err := cleanFields(f, name); err != nil {
				return err
			}
		case reflect.String:
			if err := cleanField(f, name); err != nil {
				return err
			}
		}
	}
	return nil
}

func cleanField(f reflect.Value, path string) error {
	most, ok := lengths()[path]
	if !ok {
		most = textMost
	}
	if n := f.Len(); n > most {
		return fmt.Errorf("%s has %d bytes, at most %d can be kept: %.20q…", path, n, most, f.String())
	}
	if !verbatim(path) {
		f.SetString(strings.TrimSpace(CleanText(f.String())))
	}
	return nil
}

// clean cleans the texts of every value.
func (s EngineSet) clean() (EngineSet, error) {
	s.Values = slices.Clone(s.Values)
	for i := range s.Values {
		s.Values[i].Against = nil // the rules say what it is held against
		if err := cleanFields(reflect.ValueOf(&s.Values[i]).Elem(), "engine.values"); err != nil {
			return s, err
		}
	}
	return s, nil
}

// CleanText gives a text without signs that act rather than show: control characters, and those that change the
// direction of writing or are invisible, become a blank; what is no UTF-8 becomes U+FFFD. Texts of older ledgers, and of
// gauges, may hold any of them, so whatever prints a text for people asks here.
func CleanText(s string) string {
	if !utf8.ValidString(s) {
		s = strings.ToValidUTF8(s, string(utf8.RuneError))
	}
	if strings.IndexFunc(s, acts) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		if acts(r) {
			return ' '
		}
		return r
	}, s)
}

// EscapeJSON gives JSON in which signs that act are written as \u escapes: its values are the same, and it can be looked at
// in a terminal. Control characters below U+0020 are escaped in any JSON.
func EscapeJSON(b []byte) []byte {
	if bytes.IndexFunc(b, actsInJSON) < 0 {
		return b
	}
	var out []byte
	for _, r := range string(b) {
		if actsInJSON(r) {
			out = fmt.Appendf(out, `\u%04x`, r)
		} else {
			out = utf8.AppendRune(out, r)
		}
	}
	return out
}

func actsInJSON(r rune) bool { return r >= 0x7f && acts(r) }

// acts reports whether a sign does something to what shows it.
func acts(r rune) bool {
	switch {
	case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r): // C0, DEL, C1; whatever changes the direction of writing
		return true
	case r >= 0x200b && r <= 0x200f, r >= 0x2028 && r <= 0x202e, r >= 0x2060 && r <= 0x206f, r == 0xfeff:
		return true // zero width, line and paragraph separators, bidirectional embeddings, overrides and isolates
	}
	return false
}
