package plainjson_test

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/plainjson"
)

// Numbers and texts must come out as json.Marshal (Go's standard library) writes them, to the last byte: sums are taken over
// them.
func TestWritesAsTheStandardLibraryDoes(t *testing.T) {
	for _, x := range []float64{0, math.Copysign(0, -1), 1, -1.5, 1e-6, 9.99e-7, 1e-9, 1.25e-10, 1e20, 1e21, 1e22, 123456789.125, math.MaxFloat64, math.SmallestNonzeroFloat64} {
		holdFloat(t, x)
	}
	for _, s := range []string{"", "plain", `a "quoted" \ word`, "<b>&amp;</b>", "\n\t\x00\x1f\x7f", "½ µm ± 0.1°", "\u2028\u2029", "\xff\xfe", "😀"} {
		holdText(t, s)
	}
	rapid.Check(t, func(t *rapid.T) {
		holdFloat(t, math.Float64frombits(rapid.Uint64().Draw(t, "bits")))
		holdFloat(t, rapid.Float64().Draw(t, "x"))
		holdText(t, rapid.String().Draw(t, "s"))
		holdText(t, string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")))
	})
}

type fataler interface {
	Helper()
	Errorf(format string, args ...any)
}

func holdFloat(t fataler, x float64) {
	t.Helper()
	want, bad := json.Marshal(x)
	got, err := plainjson.AppendFloat(nil, x)
	if (bad == nil) != (err == nil) || err == nil && string(got) != string(want) {
		t.Errorf("%g: %q, %v; json.Marshal says %q, %v", x, got, err, want, bad)
	}
}

func holdText(t fataler, s string) {
	t.Helper()
	want, err := json.Marshal(s)
	if got := plainjson.AppendString(nil, s); err != nil || string(got) != string(want) {
		t.Errorf("%q: %q; json.Marshal says %q, %v", s, got, want, err)
	}
}

// one is an object of every sort of field.
type one struct {
	A string             `json:"a"`
	B int64              `json:"b"`
	C float64            `json:"c"`
	D bool               `json:"d"`
	E []byte             `json:"e"`
	F []int64            `json:"f"`
	G []float64          `json:"g"`
	H *float64           `json:"h"`
	I uint64             `json:"i"`
	J map[string]float64 `json:"j"`
	K []string           `json:"k"`
	L [][]byte           `json:"l"`
	M int                `json:"m"`
}

func read(b []byte) (v one, plain bool) {
	r := plainjson.Read(b)
	r.Begin()
	plainjson.Text(r, "a", &v.A)
	r.Count("b", &v.B)
	r.Number("c", &v.C)
	r.Truth("d", &v.D)
	r.Blob("e", &v.E)
	r.Counts("f", &v.F)
	r.Numbers("g", &v.G)
	r.MaybeNumber("h", &v.H)
	r.Place("i", &v.I)
	if r.Field("j") {
		v.J = plainjson.Table(r, (*plainjson.Reader).Float)
	}
	r.Texts("k", &v.K)
	r.Blobs("l", &v.L)
	plainjson.Whole(r, "m", &v.M)
	r.End()
	return v, r.Done()
}

// hold holds what is read against encoding/json: what is taken must be taken there too, and mean the same.
func hold(t fataler, text []byte) (plain bool) {
	t.Helper()
	got, plain := read(text)
	if !plain {
		return false
	}
	var want one
	if err := json.Unmarshal(text, &want); err != nil {
		t.Errorf("%q was read, encoding/json says %v", text, err)
		return true
	}
	a, errA := json.Marshal(got)
	b, errB := json.Marshal(want)
	if errA != nil || errB != nil || string(a) != string(b) {
		t.Errorf("%q: read as %s (%v), by encoding/json %s (%v)", text, a, errA, b, errB)
	}
	return true
}

func TestTakesWhatIsWrittenHere(t *testing.T) {
	for text, want := range map[string]bool{
		`{}`: true,
		`{"a":"x","b":-12,"c":1.5e-7,"d":true,"e":"AAEC","f":[1,-2],"g":[0.5],"h":3,"i":18446744,"j":{"y":1,"x":2},"k":["u"],"l":["AA=="],"m":7}`: true,
		`{"a":"\u003cb\u003e \"q\" \\ \n\t\/ ½ \u00b5"}`: true,
		`{"h":null}`:                 true,
		`{"f":[],"g":[],"j":{}}`:     true,
		`{"b":1,"a":"x"}`:            false, // not in order
		`{"a":"x","a":"y"}`:          false, // twice
		`{"A":"x"}`:                  false, // encoding/json takes it
		`{"a": "x"}`:                 false,
		`{"a":"x"} `:                 false,
		`{"a":"x","z":1}`:            false,
		`{"b":01}`:                   false,
		`{"b":1.0}`:                  false,
		`{"b":9223372036854775808}`:  false,
		`{"b":-9223372036854775809}`: false,
		`{"c":1e999}`:                false,
		`{"c":.5}`:                   false,
		`{"c":5.}`:                   false,
		`{"c":+5}`:                   false,
		`{"c":0x1p3}`:                false,
		`{"c":1_0}`:                  false,
		`{"c":-}`:                    false,
		`{"e":"AAE"}`:                false,
		`{"f":[1,]}`:                 false,
		`{"f":[1`:                    false,
		`{"j":{"x":1,"x":2}}`:        false,
		"{\"a\":\"\xff\"}":           false,
		"{\"a\":\"\n\"}":             false,
		`{"a":"\ud83d\ude00"}`:       false, // encoding/json knows pairs
		`{"a":"\x"}`:                 false,
		`{"a":"`:                     false,
		`{"a"`:                       false,
		`{`:                          false,
		``:                           false,
		`{"i":-1}`:                   false,
		`{"m":1,}`:                   false,
		`{,"m":1}`:                   false,
	} {
		if got := hold(t, []byte(text)); got != want {
			t.Errorf("%s: taken %t, want %t", text, got, want)
		}
	}
}

// FuzzReader holds any text against encoding/json.
func FuzzReader(f *testing.F) {
	f.Add([]byte(`{"a":"x","b":-12,"c":1.5e-7,"d":true,"e":"AAEC","f":[1,-2],"g":[0.5],"h":3,"i":18446744,"j":{"y":1,"x":2},"k":["u"],"l":["AA=="],"m":7}`))
	f.Add([]byte(`{"a":"\u003cb\u003e \"q\" \\ \n\t\/ ½ \u00b5","h":null}`))
	f.Fuzz(func(t *testing.T, text []byte) { hold(t, text) })
}
