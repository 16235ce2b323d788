package sheet_test

import (
	"fmt"
	"testing"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store/sheet"
)

// scene plays a build of the shipped plan first-fit on an invented engine: entries numbered and folded as the bench
// does, results computed by calc from requests bound here by hand.
type scene struct {
	t       *testing.T
	chain   bench.Chain
	state   bench.State
	history []bench.Result
	place   bench.Place
	photos  map[string]bench.Picture
}

const start = 1_790_000_000_000_000

func (s *scene) add(e bench.Entry) bench.Entry {
	s.t.Helper()
	e.Bench, e.ID, e.At = "bench-1", fmt.Sprintf("0190-%08d", s.chain.N+1), start+int64(s.chain.N)*40_000_000
	if e.Place == (bench.Place{}) {
		e.Place = s.place
	}
	e, body, err := s.chain.Number(e)
	if err != nil {
		s.t.Fatal(err)
	}
	if s.chain, err = s.chain.Next(e, body); err != nil {
		s.t.Fatal(err)
	}
	if s.state, err = bench.Apply(s.state, e); err != nil {
		s.t.Fatal(err)
	}
	return e
}

func inch(t *testing.T, text string) quantity.Value {
	t.Helper()
	v, err := quantity.ParseAs(quantity.Length, text+" in")
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func (s *scene) enter(step string) {
	s.place = bench.Place{Build: "17", Step: step}
	s.add(bench.Entry{Kind: bench.StepEntered})
	s.add(bench.Entry{Kind: bench.Acknowledged, By: "K.B."})
}

func (s *scene) zero() string {
	return s.add(bench.Entry{Kind: bench.ZeroSet, By: "pedal", Zero: &bench.Zero{Gauge: "dial-1", Raw: inch(s.t, "0.0120"), Shows: inch(s.t, "0"), Text: "+0.0120 in"}}).ID
}

func (s *scene) open(pass int) {
	s.place.Pass, s.place.Point = pass, ""
	s.add(bench.Entry{Kind: bench.PassOpened})
}

func (s *scene) close(drift string) {
	s.place.Point = ""
	s.add(bench.Entry{Kind: bench.PassClosed, Drift: &bench.Drift{By: inch(s.t, drift), Allowed: inch(s.t, "0.0005")}})
}

// read takes what the gauge shall show and gives the reading's id and value.
func (s *scene) read(point, value, zero string) (string, calc.Num) {
	v := inch(s.t, value)
	raw, err := v.Add(inch(s.t, "0.0120"))
	if err != nil {
		s.t.Fatal(err)
	}
	at := s.place
	at.Point, at.Seating = point, 1
	e := s.add(bench.Entry{Kind: bench.ReadingTaken, Place: at, By: "pedal", Reading: &bench.Reading{Gauge: "dial-1", Mode: "press",
		Frames: [][]byte{[]byte(raw.Digits() + " in\r\n")}, Text: raw.String(), Raw: raw, Zero: zero, Value: v}})
	return e.ID, calc.Num{X: v.Float(), Us: []calc.Component{{Name: "resolution", U: 0.0127 / 3.4641}, {Name: "zero", U: 0.0127 / 3.4641, Shared: zero},
		{Name: "set-up repeatability", U: 0.0127}}}
}

func (s *scene) run(pass int, key string, req calc.Request, readings ...string) {
	res, err := calc.Run(req)
	if err != nil {
		s.t.Fatal(err)
	}
	s.history = append(s.history, bench.Result{Build: "17", Step: s.place.Step, Pass: pass, Key: key, N: s.chain.N, At: start, Readings: readings, Request: req, Result: res})
}

func ptr[T any](x T) *T { return &x }

// play is the whole scene: guide blocks in two passes, a reading retaken, a void pass, crank runout too close to call,
// a limit changed, a step signed, and a photo.
func play(t *testing.T) *scene {
	s := &scene{t: t, photos: map[string]bench.Picture{}}
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	s.add(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Profile: "pushed-decimal", Port: "/dev/ttyUSB0", Known: bench.KnownUSB, Identity: "usb 0403-6001 A10K", Role: "indicator",
		Sends: bench.SendsKey, Sense: 1, Resolution: inch(t, "0.0005"), Calibration: inch(t, "0.0002"), K: 2}})
	s.add(bench.Entry{Kind: bench.GaugeChecked, Check: &bench.Check{Gauge: "dial-1", Error: 0.00127, U: 0.002, Due: start - 86_400_000_000}})
	s.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Engine: "shop twin no. 4, 500 cm³", Plan: "first-fit", Text: string(text)}})
	s.enter("guide-clearance")
	for _, name := range []string{"guide_clearance", "guide_clearance_least", "guide_clearance_most"} {
		s.add(bench.Entry{Kind: bench.Confirmed, Item: "engine." + name, By: "K.B."})
	}
	s.add(bench.Entry{Kind: bench.Overridden, By: "K.B.", Override: &bench.Override{What: "engine", Name: "guide_clearance_most", Value: ptr(inch(t, "0.053"))},
		Reason: "the maker's later bulletin allows it, seen in the shop's own copy"})
	z := s.zero()
	s.open(1)
	var ids [4]string
	var nums [4]calc.Num
	bad, _ := s.read("left.start", "0.4000", z)
	s.add(bench.Entry{Kind: bench.Withdrawn, Refers: bad, By: "pedal"})
	for i, r := range [][2]string{{"left.start", "0.4100"}, {"left.contact", "0.3900"}, {"right.start", "0.4215"}, {"right.contact", "0.3985"}} {
		ids[i], nums[i] = s.read(r[0], r[1], z)
	}
	s.close("0.0000")
	want := calc.Val{Num: &calc.Num{X: 1.27}}
	limits := map[string]calc.Limit{"clearance_now": {Lower: ptr(1.2192), Upper: ptr(1.3462), Source: "builder's choice"}}
	words := map[string]string{"away": "into the cylinder, away from the cam", "towards": "out of the cylinder, towards the cam"}
	guide := func(pass int, key string, k int, now *calc.Num, id ...string) {
		req := calc.Request{Method: "contact-clearance", Words: words, Digits: 0.0127, Limits: limits,
			Inputs: map[string]calc.Val{"protrusion": {List: []calc.Num{nums[k+1]}}, "start": {Num: &nums[k]}, "clearance": want}}
		if now != nil {
			req.Inputs["now"] = calc.Val{Num: now}
		}
		s.run(pass, key, req, append(id, ids[k], ids[k+1])...)
	}
	guide(1, "left", 0, nil)
	guide(1, "right", 2, nil)
	s.open(2)
	s.add(bench.Entry{Kind: bench.PassVoid, Reason: "the stand was knocked", By: "K.B."})
	s.open(3)
	l, lnum := s.read("left.now", "0.3445", z)
	r, rnum := s.read("right.now", "0.3490", z)
	s.close("0.0000")
	guide(3, "left", 0, &lnum, l)
	guide(3, "right", 2, &rnum, r)
	s.open(4)
	l, lnum = s.read("left.now", "0.3400", z)
	r, rnum = s.read("right.now", "0.3490", z)
	s.close("0.0005")
	guide(4, "left", 0, &lnum, l)
	guide(4, "right", 2, &rnum, r)
	s.place.Point = ""
	pic := s.add(bench.Entry{Kind: bench.Photo, By: "K.B.", Picture: &bench.Picture{Type: "image/png", Bytes: picture(t), Note: "left block with the indicator on it"}})
	s.photos[pic.ID] = *pic.Picture
	s.add(bench.Entry{Kind: bench.Signed, Initials: "K.B."})
	s.enter("crank-runout")
	s.add(bench.Entry{Kind: bench.Confirmed, Item: "engine.runout_most", By: "K.B."})
	z = s.zero()
	s.open(1)
	angles := calc.Val{}
	values := calc.Val{}
	var used []string
	for i, v := range []string{"0.0000", "0.0000", "0.0005", "0.0015", "0.0015", "0.0015", "0.0010", "0.0000"} {
		id, n := s.read(fmt.Sprintf("%ddeg", 45*i), v, z)
		used = append(used, id)
		angles.List = append(angles.List, calc.Num{X: float64(45 * i)})
		values.List = append(values.List, n)
	}
	s.close("0.0000")
	s.run(1, "", calc.Request{Method: "runout", Digits: 0.0127, Limits: map[string]calc.Limit{"total_reading": {Upper: ptr(0.0381), Source: "common practice"}},
		Inputs: map[string]calc.Val{"angle": angles, "reading": values}}, used...)
	s.add(bench.Entry{Kind: bench.Dropped, Item: "one 5 mm washer", By: "K.B."})
	return s
}

func (s *scene) sheet() sheet.Sheet {
	s.t.Helper()
	sh, err := sheet.Build(sheet.Source{State: s.state, Job: "17", History: s.history, Photos: s.photos, Chain: s.chain, Made: time.UnixMicro(start + 4_000_000_000)})
	if err != nil {
		s.t.Fatal(err)
	}
	return sh
}
