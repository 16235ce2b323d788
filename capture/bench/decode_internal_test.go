package bench

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
)

// filled gives a value every field of which says something, lists of two, but for the fields named.
func filled(t *testing.T, v reflect.Value, but map[string]bool) {
	t.Helper()
	n := 0
	var fill func(v reflect.Value, deep int)
	fill = func(v reflect.Value, deep int) {
		n++
		if v.Type() == reflect.TypeFor[quantity.Value]() {
			q, err := quantity.Parse(fmt.Sprintf("%d.25 mm", n))
			if err != nil {
				t.Fatal(err)
			}
			v.Set(reflect.ValueOf(q))
			return
		}
		switch v.Kind() {
		case reflect.String:
			v.SetString(fmt.Sprintf("text %d: <½\">", n))
		case reflect.Int, reflect.Int64:
			v.SetInt(int64(-n))
		case reflect.Uint64:
			v.SetUint(uint64(n))
		case reflect.Uint8:
			v.SetUint(uint64(n % 256))
		case reflect.Float64:
			v.SetFloat(float64(n) / 7)
		case reflect.Bool:
			v.SetBool(true)
		case reflect.Pointer:
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), deep+1)
		case reflect.Slice:
			v.Set(reflect.MakeSlice(v.Type(), 2, 2))
			fill(v.Index(0), deep+1)
			fill(v.Index(1), deep+1)
		case reflect.Struct:
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.Tag.Get("json") != "-" && !but[v.Type().Name()+"."+f.Name] {
					fill(v.Field(i), deep+1)
				}
			}
		default:
			t.Fatalf("no value for %s", v.Type())
		}
	}
	fill(v, 0)
}

// rare are the parts of an entry that a ledger holds few of; encoding/json reads them.
var rare = []string{"Gauge", "Link", "Check", "Question", "Override", "Picture", "Engine", "Life", "Rules", "Key"}

// What a ledger is full of is read quickly, and as encoding/json reads it: every field of it is known. One that was forgotten
// would be read all the same, but slowly.
func TestEveryFieldOfWhatIsOftenReadIsKnown(t *testing.T) {
	but := map[string]bool{}
	for _, name := range rare {
		but["Entry."+name] = true
	}
	var e, want Entry
	filled(t, reflect.ValueOf(&e).Elem(), but)
	body, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(body, &want); err != nil {
		t.Fatal(err)
	}
	if got, plain := decodePlain(body); !plain || !reflect.DeepEqual(got, want) {
		t.Errorf("taken %t\n%+v\nby encoding/json\n%+v\n(open capture/bench/entry_read.go)", plain, got, want)
	}
	var res, wantRes Result
	filled(t, reflect.ValueOf(&res).Elem(), map[string]bool{"Result.Request": true})
	body, err = json.Marshal(struct {
		Result
		Request *calc.Request `json:"request,omitempty"`
	}{Result: res})
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(body, &wantRes); err != nil {
		t.Fatal(err)
	}
	if got, plain := resultPlain(body); !plain || !reflect.DeepEqual(got, wantRes) {
		t.Errorf("taken %t\n%+v\nby encoding/json\n%+v\n(open capture/bench/result_read.go, calc/engine_result_read.go)", plain, got, wantRes)
	}
}

// Rare parts are left to encoding/json, whole.
func TestRarePartsAreReadToo(t *testing.T) {
	for _, name := range rare {
		var e, want Entry
		filled(t, reflect.ValueOf(&e).Elem().FieldByName(name), map[string]bool{"RulesInForce.Methods": true})
		e.V, e.Bench, e.N, e.ID, e.Kind = Version, "bench", 1, "id", "kind"
		body, err := json.Marshal(e)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(body, &want); err != nil {
			t.Fatal(err)
		}
		if _, plain := decodePlain(body); plain {
			t.Errorf("%s is not rare any more", name)
		}
		if got, err := Decode(body); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, %v, by encoding/json %+v", name, got, err, want)
		}
	}
}
