package bus

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// Message is one kind of message on the bus: where it goes, what it is, and the type whose JSON it is.
type Message struct {
	Name    string // as its schema is asked for
	Subject string // BENCH, KIND, STEP, GAUGE and VERB stand for a name
	Words   string
	form    reflect.Type
}

// Messages lists every kind of message there is.
func Messages() []Message {
	return []Message{
		{"entry", EntrySubject("BENCH", "KIND"), "one thing that happened at the bench; kept in the stream and sealed in the ledger", reflect.TypeFor[bench.Entry]()},
		{"result", ResultSubject("BENCH", "STEP"), "what came of an entry, after it is in the ledger", reflect.TypeFor[bench.Outcome]()},
		{"live", LiveSubject("BENCH", "GAUGE"), "a gauge's newest value, at most twenty a second; never kept", reflect.TypeFor[bench.Live]()},
		{"notice", NoticeSubject("BENCH"), "a tone, a word, or a trouble that stands", reflect.TypeFor[bench.Notice]()},
		{"verb", VerbSubject("BENCH", "VERB"), "asks something of the bench; answered by an answer", reflect.TypeFor[bench.Verb]()},
		{"answer", "the inbox of who asked", "what the bench says to a verb", reflect.TypeFor[bench.Answer]()},
		{"status", AskSubject("BENCH", "status"), "asks how the bench stands, with an empty body; the answer has this form", reflect.TypeFor[bench.Status]()},
	}
}

// Schema is the JSON Schema (draft 2020-12) of a kind of message. It is made from the type that is written, so that it
// cannot fall behind; a later version of the program may add fields.
func Schema(name string) ([]byte, error) {
	var have []string
	for _, m := range Messages() {
		have = append(have, m.Name)
		if m.Name != name {
			continue
		}
		b := schemaBuilder{defs: map[string]any{}}
		root := b.of(m.form)
		doc := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "thoud " + m.Name, "description": m.Words, "$defs": b.defs}
		for k, v := range root {
			doc[k] = v
		}
		var out bytes.Buffer
		enc := json.NewEncoder(&out)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		err := enc.Encode(doc)
		return out.Bytes(), err
	}
	return nil, fmt.Errorf("no message %q: there are %s", name, strings.Join(have, ", "))
}

// schemaBuilder collects the definitions of the types that a message is made of.
type schemaBuilder struct{ defs map[string]any }

// of gives the schema of a type; that of a struct stands among the definitions and is referred to.
func (b schemaBuilder) of(t reflect.Type) map[string]any {
	switch {
	case t == reflect.TypeFor[quantity.Value]():
		b.defs["quantity"] = map[string]any{
			"description": "an exact quantity: n counts tenths of a nanometre for lengths, and the figures as sent, of which places stand after the point, for every other kind",
			"type":        []string{"object", "null"}, "additionalProperties": false, "required": []string{"n", "places", "unit"},
			"properties": map[string]any{"n": map[string]any{"type": "integer"}, "places": map[string]any{"type": "integer", "minimum": 0}, "unit": map[string]any{"type": "string"}},
		}
		return map[string]any{"$ref": "#/$defs/quantity"}
	case t.Kind() == reflect.Pointer:
		return map[string]any{"anyOf": []any{b.of(t.Elem()), map[string]any{"type": "null"}}}
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Uint8:
		return map[string]any{"type": []string{"string", "null"}, "contentEncoding": "base64"}
	case t.Kind() == reflect.Slice, t.Kind() == reflect.Array:
		return map[string]any{"type": []string{"array", "null"}, "items": b.of(t.Elem())}
	case t.Kind() == reflect.Map:
		return map[string]any{"type": []string{"object", "null"}, "additionalProperties": b.of(t.Elem())}
	case t.Kind() == reflect.Struct:
		return b.ofStruct(t)
	}
	return map[string]any{"type": plainType(t.Kind())}
}

func plainType(k reflect.Kind) string {
	switch k {
	case reflect.String:
		return "string"
	case reflect.Bool:
		return "boolean"
	case reflect.Float32, reflect.Float64:
		return "number"
	}
	return "integer"
}

func (b schemaBuilder) ofStruct(t reflect.Type) map[string]any {
	name := strings.ToLower(t.Name())
	if pkg := t.PkgPath(); !strings.HasSuffix(pkg, "/bench") {
		name = pkg[strings.LastIndexByte(pkg, '/')+1:] + "." + name
	}
	ref := map[string]any{"$ref": "#/$defs/" + name}
	if _, ok := b.defs[name]; ok {
		return ref
	}
	b.defs[name] = nil // a type that holds itself ends here
	properties, required := map[string]any{}, []string{}
	b.fields(t, properties, &required)
	b.defs[name] = map[string]any{"type": "object", "additionalProperties": false, "properties": properties, "required": required}
	return ref
}

// fields adds the fields of a struct, and those of a struct that is embedded in it, as encoding/json writes them.
func (b schemaBuilder) fields(t reflect.Type, properties map[string]any, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		tag, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if tag == "-" || !f.IsExported() {
			continue
		}
		if f.Anonymous && tag == "" && f.Type.Kind() == reflect.Struct {
			b.fields(f.Type, properties, required)
			continue
		}
		if tag == "" {
			tag = f.Name
		}
		properties[tag] = b.of(f.Type)
		if !strings.Contains(options, "omit") {
			*required = append(*required, tag)
		}
	}
}
