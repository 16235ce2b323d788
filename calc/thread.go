package calc

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// thread gives the dimensions of a screw thread from its name.
//
//	form                              pitch diameter d₂   minor diameter      root for the stress area
//	metric, unified (60°)             d − 0.649519 P      d − 1.082532 P      d − 1.226869 P (unified 1.299038 P)
//	Whitworth, BSW and BSF (55°)      d − 0.640327 P      d − 1.280654 P      the minor diameter
//	cycle, BSC and CEI (60°)          d − 0.5327 P        d − 1.0654 P        the minor diameter
//	BA (47½°)                         d − 0.6 P           d − 1.2 P           the minor diameter
//	    P = 0.9ⁿ to 0.01 mm, d = 6·(0.9ⁿ)^1.2 to 0.1 mm, with the pitch not rounded
//
//	stress area = π/4 ((d₂ + root)/2)²      metric π/4 (d − 0.938194 P)², unified π/4 (d − 0.974279 P)²
//
// Lengths in mm, areas in mm². The minor diameter is that of the basic profile, as the tables print it. tap_drill is
// the customary drill where the trade's tables name one (unified sizes to 1/2 in, four BA sizes), else d − P, common
// practice. Names: "M10x1.25", "M10" (coarse), "5/16-24 UNF", "1/4-26 BSC", "1/4-20 BSW", "5/16-22 BSF", "#10-32 UNF",
// "2 BA". An inch thread must name its form, because 1/4-20 is both unified and Whitworth and differs in angle; a count of
// threads that is not the series' own is refused. A size in decimals within 0.0005 in of a listed size is that size:
// 0.3125 is 5/16. Sources: ISO 68-1, ISO 724, ISO 898-1, ASME B1.1, BS 84, BS 811, BS 93 (BA, from memory).
func thread() Method {
	return Method{
		Name: "thread", Version: 2, Title: "Dimensions of a thread",
		Inputs: []Input{
			{Name: "thread", Shape: Text, Doc: "\"M10x1.25\", \"5/16-24 UNF\", \"1/4-26 BSC\", \"1/4-20 BSW\", \"2 BA\""},
		},
		Figures: []Figure{
			{Name: "pitch", Kind: quantity.Length, Doc: "advance in one turn"},
			{Name: "pitch_diameter", Kind: quantity.Length, Doc: "effective diameter"},
			{Name: "minor_diameter", Kind: quantity.Length, Doc: "core diameter of the basic profile"},
			{Name: "stress_area", Kind: quantity.Area, Doc: "area that carries the load"},
			{Name: "tap_drill", Kind: quantity.Length, Doc: "drill before tapping"},
		},
		Formula:  "d2 = d − 0.649519 P (60°), d − 0.640327 P (55°), d − 0.5327 P (cycle), d − 0.6 P (BA); stress area = π/4 ((d2 + root)/2)²",
		Source:   "ISO 68-1, ISO 724, ISO 898-1, ASME B1.1, BS 84, BS 811, BS 93; tap drills: trade tables, else d − P (common practice)",
		Cautions: []string{"Glasses on when drilling and tapping; swarf out of the oilways; never screw a 55° thread into a 60° one."},
		Compute: func(in Args, out *Out) error {
			t, err := parseThread("thread", in.Text("thread"))
			if err != nil {
				return err
			}
			out.Set("pitch", t.pitch)
			out.Set("pitch_diameter", t.pitchDiameter())
			out.Set("minor_diameter", t.minorDiameter())
			out.Set("stress_area", t.stressArea())
			out.Set("tap_drill", t.tapDrill())
			return nil
		},
	}
}

// threadForm is a profile: depths as multiples of the pitch, and the half angle of the flanks in degrees.
type threadForm struct {
	name      string
	effective float64 // (d − pitch diameter)/P
	minor     float64 // (d − minor diameter)/P
	root      float64 // (d − root diameter of the stress area)/P
	flank     float64
}

func metricForm() threadForm    { return threadForm{"metric", 0.649519, 1.082532, 1.226869, 30} }
func unifiedForm() threadForm   { return threadForm{"unified", 0.649519, 1.082532, 1.299038, 30} }
func whitworthForm() threadForm { return threadForm{"Whitworth", 0.640327, 1.280654, 1.280654, 27.5} }
func cycleForm() threadForm     { return threadForm{"cycle", 0.5327, 1.0654, 1.0654, 30} }
func baForm() threadForm        { return threadForm{"BA", 0.6, 1.2, 1.2, 23.75} }

// screw is one thread: diameter and pitch in mm.
type screw struct {
	form     threadForm
	diameter float64
	pitch    float64
	key      string // "5/16-24": size and threads an inch of an inch thread; "2 BA"
}

func (t screw) pitchDiameter() float64 { return t.diameter - t.form.effective*t.pitch }
func (t screw) minorDiameter() float64 { return t.diameter - t.form.minor*t.pitch }

// stressDiameter is the mean of pitch and root diameter.
func (t screw) stressDiameter() float64 {
	return t.diameter - (t.form.effective+t.form.root)/2*t.pitch
}

func (t screw) stressArea() float64 { return math.Pi / 4 * t.stressDiameter() * t.stressDiameter() }

func (t screw) tapDrill() float64 {
	if t.form.name == "unified" {
		if inch, ok := tapDrills()[t.key]; ok {
			return inch * 25.4
		}
	}
	if mm, ok := baDrills()[t.key]; ok {
		return mm
	}
	return t.diameter - t.pitch
}

// parseThread reads a thread's name; field is the input it came from.
func parseThread(field, name string) (screw, error) {
	s := strings.ToUpper(strings.TrimSpace(name))
	if s == "" {
		return screw{}, threadRefusal(field, name, "it is empty")
	}
	var t screw
	var err error
	metric, isMetric := strings.CutPrefix(s, "M")
	number, isBA := strings.CutSuffix(s, "BA")
	switch {
	case isMetric:
		t, err = parseMetric(field, name, metric)
	case isBA:
		t, err = parseBA(field, name, number)
	default:
		t, err = parseInch(field, name, s)
	}
	if err != nil {
		return screw{}, err
	}
	if t.minorDiameter() <= 0 || t.diameter > 200 || t.pitch < 0.1 {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("a pitch of %.4g mm does not go with a diameter of %.4g mm", t.pitch, t.diameter))
	}
	return t, nil
}

func threadRefusal(field, name, why string) error {
	return Refuse(field, "write it as \"M10x1.25\", \"5/16-24 UNF\", \"1/4-26 BSC\", \"1/4-20 BSW\" or \"2 BA\"", "%q is no thread known here: %s", name, why)
}

func parseMetric(field, name, s string) (screw, error) {
	s = strings.NewReplacer("×", "X", "*", "X", " ", "").Replace(s)
	size, pitch, fine := strings.Cut(s, "X")
	d, ok := positiveDecimal(size)
	if !ok {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("%q is no diameter", size))
	}
	if !fine {
		p, known := coarsePitches()[d]
		if !known {
			return screw{}, threadRefusal(field, name, fmt.Sprintf("the coarse pitch of M%s is not in the table, so give the pitch", size))
		}
		return screw{form: metricForm(), diameter: d, pitch: p}, nil
	}
	p, ok := positiveDecimal(pitch)
	if !ok {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("%q is no pitch", pitch))
	}
	return screw{form: metricForm(), diameter: d, pitch: p}, nil
}

func parseInch(field, name, s string) (screw, error) {
	words := strings.Fields(s)
	if len(words) > 1 && strings.Contains(words[1], "/") { // 1 1/8-12 UNF
		words = append([]string{words[0] + " " + words[1]}, words[2:]...)
	}
	size, count, ok := strings.Cut(words[0], "-")
	if !ok {
		return screw{}, threadRefusal(field, name, "neither metric nor size-threads of an inch thread")
	}
	inch, ok := inchSize(size)
	if !ok {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("%q is no size in inches", size))
	}
	tpi, ok := positiveDecimal(count)
	if !ok {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("%q is no count of threads an inch", count))
	}
	if len(words) != 2 {
		return screw{}, threadRefusal(field, name, "an inch thread needs its form (UNC, UNF, UN, BSW, BSF, BSC): "+size+"-"+count+" may be more than one")
	}
	form, ok := inchForms()[words[1]]
	if !ok {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("%q is no form of thread (UNC, UNF, UNEF, UN, UNS, BSW, BSF, BSC, CEI)", words[1]))
	}
	size, inch = listedSize(size, inch)
	if want, ok := seriesThreads()[words[1]][size]; ok && want != tpi {
		return screw{}, threadRefusal(field, name, fmt.Sprintf("%s %s has %g threads an inch, not %g", size, words[1], want, tpi))
	}
	return screw{form: form, diameter: inch * 25.4, pitch: 25.4 / tpi, key: fmt.Sprintf("%s-%g", size, tpi)}, nil
}

// listedSize gives a size as the tables of series name it, where it is one of theirs in other words (0.3125, 10/32): a
// thread named in decimals is held to its series like one named by its fraction.
func listedSize(size string, inch float64) (string, float64) {
	for _, series := range seriesThreads() {
		for name := range series {
			// Sizes stand at least 0.0025 in apart, so there is one at most.
			if x, ok := inchSize(name); ok && math.Abs(x-inch) <= 0.0005+1e-9 {
				return name, x
			}
		}
	}
	return size, inch
}

// parseBA reads the number of a BA size.
func parseBA(field, name, s string) (screw, error) {
	s = strings.TrimSpace(s)
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > 16 || s != strconv.Itoa(n) {
		return screw{}, threadRefusal(field, name, "BA sizes are whole numbers from 0 to 16, without a count of threads")
	}
	exact := math.Pow(0.9, float64(n))
	return screw{
		form: baForm(), key: fmt.Sprintf("%d BA", n),
		pitch: math.Round(exact*100) / 100, diameter: math.Round(6*math.Pow(exact, 1.2)*10) / 10,
	}, nil
}

// inchSize reads "1/4", "0.3125", "1 1/8", "1" or a number size "#10".
func inchSize(s string) (float64, bool) {
	if n, ok := strings.CutPrefix(s, "#"); ok {
		k, err := strconv.Atoi(n)
		return 0.060 + 0.013*float64(k), err == nil && k >= 0 && k <= 12
	}
	whole := 0.0
	if a, b, ok := strings.Cut(s, " "); ok {
		w, good := positiveDecimal(a)
		if !good || !strings.Contains(b, "/") {
			return 0, false
		}
		whole, s = w, b
	}
	if a, b, ok := strings.Cut(s, "/"); ok {
		x, okA := positiveDecimal(a)
		y, okB := positiveDecimal(b)
		return whole + x/y, okA && okB
	}
	return positiveDecimal(s)
}

// positiveDecimal reads a positive decimal without sign or exponent.
func positiveDecimal(s string) (float64, bool) {
	digits, places, err := quantity.ParseDecimal(s)
	if err != nil || digits <= 0 || strings.ContainsAny(s, "+-") {
		return 0, false
	}
	return float64(digits) / math.Pow10(places), true
}
