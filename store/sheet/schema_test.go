package sheet_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"thoud/store/sheet"
)

// against holds a value against a schema: the words of JSON Schema draft 2020-12 that sheet.schema.json uses, and a
// failure for any other, so that no part of it goes unchecked.
func against(root, schema map[string]any, v any, path string) []string {
	var faults []string
	say := func(format string, args ...any) {
		faults = append(faults, path+": "+fmt.Sprintf(format, args...))
	}
	for word, want := range schema {
		switch word {
		case "$schema", "title", "description", "$defs", "properties", "additionalProperties":
		case "$ref":
			name := strings.TrimPrefix(want.(string), "#/$defs/")
			def, ok := root["$defs"].(map[string]any)[name].(map[string]any)
			if !ok {
				say("no definition %q", name)
				continue
			}
			faults = append(faults, against(root, def, v, path)...)
		case "type":
			ok := false
			switch x := v.(type) {
			case map[string]any:
				ok = want == "object"
			case []any:
				ok = want == "array"
			case string:
				ok = want == "string"
			case bool:
				ok = want == "boolean"
			case float64:
				ok = want == "number" || want == "integer" && x == float64(int64(x))
			}
			if !ok {
				say("%v is no %v", v, want)
			}
		case "const":
			if v != want {
				say("%v, want %v", v, want)
			}
		case "enum":
			if !slices.Contains(want.([]any), v) {
				say("%v is none of %v", v, want)
			}
		case "format":
			if _, err := time.Parse(time.RFC3339, fmt.Sprint(v)); want != "date-time" || err != nil {
				say("%v is no %v", v, want)
			}
		case "required":
			object, _ := v.(map[string]any)
			for _, name := range want.([]any) {
				if _, ok := object[name.(string)]; !ok {
					say("%s is missing", name)
				}
			}
		case "items":
			array, _ := v.([]any)
			for i, x := range array {
				faults = append(faults, against(root, want.(map[string]any), x, fmt.Sprintf("%s[%d]", path, i))...)
			}
		default:
			say("the schema's word %q is not checked here", word)
		}
	}
	object, ok := v.(map[string]any)
	if props, has := schema["properties"].(map[string]any); has && ok {
		for name, x := range object {
			sub, known := props[name].(map[string]any)
			if known {
				faults = append(faults, against(root, sub, x, path+"."+name)...)
			} else if schema["additionalProperties"] == false {
				say("%s is not in the schema", name)
			}
		}
	}
	return faults
}

func decode(t *testing.T, b []byte) map[string]any {
	t.Helper()
	var v map[string]any
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func TestJSONKeepsToItsSchema(t *testing.T) {
	root := decode(t, sheet.Schema())
	for name, s := range map[string]sheet.Sheet{"played": play(t).sheet(), "just begun": begun(t).sheet()} {
		var b bytes.Buffer
		if err := sheet.JSON(&b, s); err != nil {
			t.Fatal(err)
		}
		if faults := against(root, root, decode(t, b.Bytes()), "sheet"); len(faults) > 0 {
			t.Errorf("%s:\n%s", name, strings.Join(faults, "\n"))
		}
	}
}

// A check that cannot fail is none: each damage must be found.
func TestTheSchemaFindsDamage(t *testing.T) {
	root := decode(t, sheet.Schema())
	var b bytes.Buffer
	if err := sheet.JSON(&b, play(t).sheet()); err != nil {
		t.Fatal(err)
	}
	for name, damage := range map[string]func(map[string]any){
		"missing":       func(v map[string]any) { delete(v, "job") },
		"extra":         func(v map[string]any) { v["more"] = 1.0 },
		"another type":  func(v map[string]any) { v["closed"] = "no" },
		"deep":          func(v map[string]any) { v["steps"].([]any)[0].(map[string]any)["progress"] = "nearly" },
		"deep and list": func(v map[string]any) { v["ledger"].(map[string]any)["n"] = 1.5 },
		"no time":       func(v map[string]any) { v["made"] = "yesterday" },
		"another form":  func(v map[string]any) { v["form"] = 2.0 },
	} {
		v := decode(t, b.Bytes())
		damage(v)
		if faults := against(root, root, v, "sheet"); len(faults) != 1 {
			t.Errorf("%s: %d faults found, want 1: %v", name, len(faults), faults)
		}
	}
}
