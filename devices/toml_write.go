package devices

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"
)

// TOML writes the profile as a file that ParseProfile reads back to the same profile.
func (p Profile) TOML() []byte {
	w := &tomlWriter{}
	w.text("name", p.Name)
	w.text("title", p.Title)
	w.text("family", p.Family)
	w.optional("role", p.Role)
	if p.Resolution.Valid() {
		w.text("resolution", p.Resolution.String())
	}
	w.table("line")
	w.number("baud", p.Line.Baud)
	w.number("data_bits", p.Line.DataBits)
	w.text("parity", p.Line.Parity)
	w.number("stop_bits", p.Line.StopBits)
	w.flag("dtr", p.Line.DTR)
	w.flag("rts", p.Line.RTS)
	if p.Poll.Polled() || p.Poll.Interval != 0 {
		w.table("poll")
		switch {
		case p.Family == FamilyModbus: // built from its table
		case utf8.Valid(p.Poll.Request):
			w.text("request", string(p.Poll.Request))
		default:
			w.bytes("request_bytes", p.Poll.Request)
		}
		w.text("interval", p.Poll.Interval.String())
	}
	if f, ok := p.family(); ok {
		f.write(w, p)
	}
	return []byte(w.String())
}

type tomlWriter struct{ strings.Builder }

func (w *tomlWriter) table(name string)        { fmt.Fprintf(w, "\n[%s]\n", name) }
func (w *tomlWriter) text(key, value string)   { fmt.Fprintf(w, "%s = %s\n", key, quoteTOML(value)) }
func (w *tomlWriter) number(key string, n int) { fmt.Fprintf(w, "%s = %d\n", key, n) }
func (w *tomlWriter) optional(key, value string) {
	if value != "" {
		w.text(key, value)
	}
}

func (w *tomlWriter) flag(key string, b *bool) {
	if b != nil {
		fmt.Fprintf(w, "%s = %t\n", key, *b)
	}
}

func (w *tomlWriter) bytes(key string, b []byte) {
	var parts []string
	for _, c := range b {
		parts = append(parts, fmt.Sprintf("0x%02X", c))
	}
	fmt.Fprintf(w, "%s = [%s]\n", key, strings.Join(parts, ", "))
}

func (w *tomlWriter) list(key string, values []string) {
	if len(values) > 0 {
		fmt.Fprintf(w, "%s = %s\n", key, listTOML(values))
	}
}

func (w *tomlWriter) words(key string, words map[string]string) {
	if len(words) == 0 {
		return
	}
	var keys []string
	for k := range words {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	var parts []string
	for _, k := range keys {
		parts = append(parts, quoteTOML(k)+" = "+quoteTOML(words[k]))
	}
	fmt.Fprintf(w, "%s = { %s }\n", key, strings.Join(parts, ", "))
}

func writeText(w *tomlWriter, p Profile) {
	t := p.Text
	w.table("text")
	if len(t.Pattern) == 1 {
		w.text("pattern", t.Pattern[0])
	} else {
		w.list("pattern", t.Pattern)
	}
	w.optional("end", t.End)
	if t.Length != 0 {
		w.number("length", t.Length)
	}
	if t.Gap {
		w.WriteString("gap = true\n")
	}
	w.optional("separator", t.Separator)
	w.list("channels", t.Channels)
	if t.Mark != "." {
		w.text("mark", t.Mark)
	}
	if t.Places >= 0 {
		w.number("places", t.Places)
	}
	if t.Scale != "1" {
		w.text("scale", t.Scale)
	}
	w.optional("unit", t.Unit)
	w.words("units", t.Units)
	w.words("status", t.Status)
	w.words("channel", t.Channel)
	w.list("ignore", t.Ignore)
}

func writeBits(w *tomlWriter, p Profile) {
	w.table("bits")
	w.number("length", p.Bits.Length)
	if p.Bits.Gap {
		w.WriteString("gap = true\n")
	}
	w.bits(p.Bits)
}

// bits writes what a frame's bits mean.
func (w *tomlWriter) bits(b *Bits) {
	w.text("order", b.Order)
	fmt.Fprintf(w, "number = { at = %d, count = %d, coding = %s, first = %s }\n", b.Number.At, b.Number.Count,
		quoteTOML(b.Number.Coding), quoteTOML(b.Number.First))
	for _, f := range []struct {
		key   string
		field *Field
	}{{"sign", b.Sign}, {"places", b.Places}, {"unit_field", b.Unit}, {"channel", b.Chan}} {
		if f.field != nil {
			fmt.Fprintf(w, "%s = %s\n", f.key, f.field.toml())
		}
	}
	if len(b.Status) > 0 {
		w.WriteString("status = [\n")
		for _, f := range b.Status {
			fmt.Fprintf(w, "  %s,\n", f.toml())
		}
		w.WriteString("]\n")
	}
	if b.Decimals != 0 {
		w.number("decimals", b.Decimals)
	}
	w.optional("unit", b.DefaultUnit)
	if b.Scale != "1" {
		w.text("scale", b.Scale)
	}
	if len(b.Fixed) > 0 {
		w.WriteString("fixed = [\n")
		for _, f := range b.Fixed {
			fmt.Fprintf(w, "  { at = %d, bits = %d, value = 0x%X },\n", f.At, f.Bits, f.Value)
		}
		w.WriteString("]\n")
	}
	if k := b.Check; k != nil {
		fmt.Fprintf(w, "check = { kind = %s, at = %d, from = %d, to = %d }\n", quoteTOML(k.Kind), k.At, k.From, k.To)
	}
}

func (f Field) toml() string {
	var keys []uint64
	for v := range f.Values {
		keys = append(keys, v)
	}
	slices.Sort(keys)
	var parts []string
	for _, v := range keys {
		parts = append(parts, strconv.FormatUint(v, 10)+" = "+quoteTOML(f.Values[v]))
	}
	return fmt.Sprintf("{ at = %d, bits = %d, values = { %s } }", f.At, f.Bits, strings.Join(parts, ", "))
}

func writeBench(w *tomlWriter, p Profile) {
	w.table("bench")
	fmt.Fprintf(w, "checked = %t\n", p.Bench.Checked)
	w.list("channels", p.Bench.Channels)
	for _, name := range slices.Sorted(maps.Keys(p.Bench.Bits)) {
		f := p.Bench.Bits[name]
		w.table("bench.bits." + keyTOML(name))
		w.number("count", f.Count)
		w.bits(&f.Bits)
	}
}

func writeModbus(w *tomlWriter, p Profile) {
	m := p.Modbus
	w.table("modbus")
	w.number("device", m.Device)
	w.text("function", m.Function)
	w.WriteString("value = [\n")
	for _, v := range m.Values {
		fmt.Fprintf(w, "  { channel = %s, register = %d, type = %s, words = %s, scale = %s, places = %d, unit = %s",
			quoteTOML(v.Channel), v.Register, quoteTOML(v.Type), quoteTOML(v.Words), quoteTOML(v.Scale), v.Places, quoteTOML(v.Unit))
		if len(v.Overload) > 0 {
			var parts []string
			for _, o := range v.Overload {
				parts = append(parts, strconv.FormatInt(o, 10))
			}
			fmt.Fprintf(w, ", overload = [%s]", strings.Join(parts, ", "))
		}
		w.WriteString(" },\n")
	}
	w.WriteString("]\n")
}

func listTOML(values []string) string {
	var parts []string
	for _, v := range values {
		parts = append(parts, quoteTOML(v))
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

// keyTOML writes a name as a key: bare, or quoted where it has a dot.
func keyTOML(name string) string {
	if strings.Contains(name, ".") {
		return quoteTOML(name)
	}
	return name
}

// quoteTOML writes a basic string of TOML 1.0.
func quoteTOML(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\r':
			b.WriteString(`\r`)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r == 0x7F:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
