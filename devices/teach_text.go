package devices

import (
	"fmt"
	"strings"
)

// teachText looks for lines of text: terminator, then the run of figures that follows the display, then what stands
// before and behind it.
func teachText(base Profile, presses []Press, streams bool) ([]candidate, string) {
	base.Family, base.Role, base.Bench = FamilyText, "", nil
	lines, t, why := taughtLines(&base, presses, streams)
	if why != "" {
		return nil, why
	}
	why = noRun
	for _, v := range views(lines, len(presses)) {
		found, w := v.layouts(base, t, presses, streams)
		if w != "" {
			why = w
		}
		// Where no mark was sent both marks read the same: one is enough.
		kept, w := keep(found, presses, streams)
		if len(kept) > 0 {
			return withoutMarkTwins(kept), ""
		}
		if w != "" {
			why = w
		}
	}
	if streams && t.End == "" && why != noRun {
		why = "nothing shows where a line ends, and the gauge sends without a long pause: its profile must be written by hand"
	}
	return nil, why
}

const noRun = "no run of figures in the lines follows the display"

func withoutMarkTwins(list []candidate) []candidate {
	var out []candidate
	seen := map[string]bool{}
	for _, c := range list {
		key := strings.Join(c.profile.Text.Pattern, "\n") + c.profile.Text.Scale + fmt.Sprint(c.profile.Text.Places)
		if !seen[key] {
			seen[key] = true
			out = append(out, c)
		}
	}
	return out
}

// layouts tries the decimal marks and the runs of figures of a line.
func (v view) layouts(base Profile, t Text, presses []Press, streams bool) (found []candidate, why string) {
	for _, mark := range []string{".", ","} {
		for k := range 8 {
			runs, scale, ok := followed(v.lines, presses, k, mark)
			if !ok {
				continue
			}
			l := layout{view: v, base: base, t: v.text(t), runs: runs, presses: presses, streams: streams}
			l.t.Mark, l.t.Scale = mark, scale
			if w := l.look(); w != "" {
				why = w
				continue
			}
			l.patterns()
			found = append(found, l.found...)
		}
	}
	return found, why
}
