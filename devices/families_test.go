package devices

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// Every wire family is handled everywhere: the test of one row names the file to open.
func TestEveryFamilyIsHandledEverywhere(t *testing.T) {
	for _, f := range families() {
		handled(t, f)
	}
	if t.Failed() {
		return // a profile of it cannot even be read
	}
	profiles, err := Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	fuzzers, err := os.ReadFile("fuzz_test.go")
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, f := range families() {
		if f.name == "" || names[f.name] {
			t.Errorf("devices/families.go: a row has no name, or the name %q twice", f.name)
		}
		names[f.name] = true
		word := strings.ToUpper(f.name[:1]) + f.name[1:]
		if _, err := os.Stat(f.source); err != nil {
			t.Errorf("family %s: its row in devices/families.go names the source %s, which is not there", f.name, f.source)
		}
		for _, holder := range []any{Profile{}, file{}} {
			if _, ok := reflect.TypeOf(holder).FieldByName(word); !ok {
				t.Errorf("family %s: %T has no field %s: devices/profile.go has the profile, devices/toml.go its file", f.name, holder, word)
			}
		}
		shipped := 0
		for _, p := range profiles {
			if p.Family == f.name {
				shipped++
			}
		}
		if shipped == 0 {
			t.Errorf("family %s: no profile ships: put one into devices/profiles", f.name)
		}
		if captures, _ := filepath.Glob("../testdata/devices/" + f.name + "/*.capture"); len(captures) == 0 {
			t.Errorf("family %s: no capture: put one into testdata/devices/%s, replay_test.go plays it", f.name, f.name)
		}
		if !strings.Contains(string(fuzzers), "func Fuzz"+word+"(") {
			t.Errorf("family %s: no fuzz target: devices/fuzz_test.go wants Fuzz%s", f.name, word)
		}
	}
}

// handled checks that nothing is left out of a family's row.
func handled(t *testing.T, f family) {
	t.Helper()
	v := reflect.ValueOf(f)
	for i := range v.NumField() {
		if field := v.Type().Field(i); field.Type.Kind() == reflect.Func && field.Name != "teach" && v.Field(i).IsNil() {
			t.Errorf("family %s: its row in devices/families.go does not say %s", f.name, field.Name)
		}
	}
	if (f.teach == nil) == (f.untaught == "") {
		t.Errorf("family %s: its row in devices/families.go wants teach, or why it is untaught", f.name)
	}
}
