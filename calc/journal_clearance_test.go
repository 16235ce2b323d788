package calc

import (
	"strings"
	"testing"
)

func TestJournalClearance(t *testing.T) {
	// By hand: 41.310 less 41.265, 41.316 less 41.258; taper 41.2645 − 41.2585, ovality 0.001.
	in := given{"bore": []float64{41.310, 41.316, 41.312, 41.314}, "journal": []float64{41.265, 41.264, 41.259, 41.258}, "axes": 2.0}
	out := figuresOf(t, "journal-clearance", in)
	figureNear(t, out, "clearance_min", 0.045, 1e-9)
	figureNear(t, out, "clearance_max", 0.058, 1e-9)
	figureNear(t, out, "ratio", 0.045/41.2615, 1e-9)
	figureNear(t, out, "taper", 0.006, 1e-9)
	figureNear(t, out, "ovality", 0.001, 1e-9)
	if !strings.Contains(strings.Join(out.warnings, " "), "0.00109 of the journal") {
		t.Errorf("warnings %q", out.warnings)
	}
	if out := figuresOf(t, "journal-clearance", in.with("bore", []float64{41.30})); len(out.warnings) != 0 {
		t.Errorf("0.035 mm of 41.26: warnings %q", out.warnings)
	}
	if out := figuresOf(t, "journal-clearance", in.with("bore", []float64{41.25})); !strings.Contains(strings.Join(out.warnings, " "), "seize") {
		t.Errorf("warnings %q", out.warnings)
	}
	refused(t, "journal-clearance", in.with("axes", 3.0), "axes")
	refused(t, "journal-clearance", in.with("strip_width", []float64{2.0}), "strip_width")
	refused(t, "journal-clearance", given{"bore": []float64{41.3}}, "journal")
	refused(t, "journal-clearance", given{}, "bore")
}

// A crushed strip keeps its cross-section: computed independently, no published example (invented figures).
func TestJournalClearanceStrip(t *testing.T) {
	in := given{"strip_width": []float64{2.45}, "scale_width": 2.00, "scale_clearance": 0.051}
	out := figuresOf(t, "journal-clearance", in)
	figureNear(t, out, "clearance_min", 0.0416, 5e-5)
	figureNear(t, out, "clearance_max", 0.0416, 5e-5)
	vals := in.vals()
	vals["strip_width"] = spreadList(0.1, 2.45)
	f, _ := mustRun(t, Request{Method: "journal-clearance", Inputs: vals}).Figure("clearance_min")
	near(t, "u", f.U/f.K, 0.0017, 5e-5)
	ends := figuresOf(t, "journal-clearance", in.with("strip_width", []float64{2.45, 2.0}).with("journal", []float64{41.26}))
	figureNear(t, ends, "taper", 0.102/2.45-0.051, 1e-12)
	figureNear(t, ends, "ratio", 0.102/2.45/41.26, 1e-12)
	refused(t, "journal-clearance", given{"strip_width": []float64{2.45}}, "scale_width")
	refused(t, "journal-clearance", given{"strip_width": []float64{2.45}, "scale_width": 2.0}, "scale_clearance")
}
