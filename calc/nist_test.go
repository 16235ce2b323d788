package calc

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// readPublished reads a file of published numbers.
func readPublished(t *testing.T, name string, to any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, to); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// strdSets gives the nine univariate sets of NIST StRD as decimal text. NumAcc2 to NumAcc4 are described by their
// construction: a first value, then 500 pairs.
func strdSets(t *testing.T) map[string][]string {
	var data struct{ Sets map[string][]string }
	readPublished(t, "nist-strd-data.json", &data)
	for name, v := range map[string][3]string{
		"NumAcc2": {"1.2", "1.1", "1.3"}, "NumAcc3": {"1000000.2", "1000000.1", "1000000.3"}, "NumAcc4": {"10000000.2", "10000000.1", "10000000.3"},
	} {
		set := []string{v[0]}
		for range 500 {
			set = append(set, v[1], v[2])
		}
		data.Sets[name] = set
	}
	return data.Sets
}

// digitsRight is how many significant digits of got agree with want: the log relative error of the NIST StRD.
func digitsRight(got, want float64) float64 {
	if got == want {
		return 15
	}
	return math.Min(15, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

// NIST StRD univariate summary statistics, certified values: thirteen digits and more on all nine sets.
func TestNISTUnivariate(t *testing.T) {
	var certified struct {
		Sets map[string]struct {
			N        int
			Mean, Sd string
			Lag1     string `json:"lag1_autocorrelation"`
		}
	}
	readPublished(t, "nist-strd-certified.json", &certified)
	sets := strdSets(t)
	if len(certified.Sets) != 9 || len(sets) < 9 {
		t.Fatalf("%d certified sets, %d data sets, want 9", len(certified.Sets), len(sets))
	}
	for name, c := range certified.Sets {
		form, err := json.Marshal(map[string]any{"values": numbersOf(sets[name])})
		if err != nil {
			t.Fatal(err)
		}
		req, err := ReadForm(statistics(), form)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		res := mustRun(t, req)
		near(t, name+" n", value(t, res, "n"), float64(c.N), 0)
		for figure, text := range map[string]string{"mean": c.Mean, "sd": c.Sd, "lag1": c.Lag1} {
			x, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			if got := digitsRight(value(t, res, figure), x); got < 13 {
				t.Errorf("%s %s: %.1f digits right (%.17g, certified %s), want 13", name, figure, got, value(t, res, figure), text)
			}
		}
	}
}

func numbersOf(texts []string) []json.Number {
	var out []json.Number
	for _, s := range texts {
		out = append(out, json.Number(s))
	}
	return out
}

// NIST StRD one-way analysis of variance, SiRstv, certified values; the between-instrument component computed
// independently.
func TestNISTSiRstv(t *testing.T) {
	var set struct {
		Groups    map[string][]json.Number
		Certified struct {
			F  string
			Sd string `json:"residual_sd"`
			R2 string
		}
	}
	readPublished(t, "nist-strd-sirstv.json", &set)
	form, err := json.Marshal(map[string]any{"groups": set.Groups})
	if err != nil {
		t.Fatal(err)
	}
	req, err := ReadForm(anova(), form)
	if err != nil {
		t.Fatal(err)
	}
	res := mustRun(t, req)
	for figure, text := range map[string]string{"f": set.Certified.F, "residual_sd": set.Certified.Sd, "r2": set.Certified.R2} {
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		// The data keep about 13 digits of their scatter in float64: 196.3 ± 0.1 at 3·10⁻¹⁴.
		if got := digitsRight(value(t, res, figure), want); got < 12 {
			t.Errorf("%s: %.1f digits right (%.17g, certified %s)", figure, got, value(t, res, figure), text)
		}
	}
	near(t, "between_sd", value(t, res, "between_sd"), 0.0197723918634, 5e-13)
	for name, groups := range map[string]string{"one group": `{"a": [1, 2]}`, "single values": `{"a": [1], "b": [2]}`, "no scatter": `{"a": [1, 1], "b": [2, 2]}`} {
		req, err := ReadForm(anova(), fmt.Appendf(nil, `{"groups": %s}`, groups))
		if err != nil {
			t.Fatal(err)
		}
		if res, err := Run(req); err != nil || res.Refused == "" {
			t.Errorf("%s: got %+v, %v, want a refusal", name, res, err)
		}
	}
}
