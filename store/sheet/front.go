package sheet

import (
	"slices"
	"strings"
)

// front finds in the engine data who and what the sheet is about. The names of the data are those of the shipped plans.
func front(s Sheet) Front {
	word := func(names ...string) string {
		for _, d := range s.Data {
			if slices.Contains(names, d.Name) && strings.TrimSpace(d.Shown.MM) != "" && !d.Open {
				return d.Shown.MM
			}
		}
		return ""
	}
	f := Front{Customer: word("customer"), EngineNumber: word("engine_number"), FrameNumber: word("frame_number"), Shop: word("shop")}
	if b := word("builder"); b != "" {
		f.Builders = []string{b}
	}
	for _, st := range s.Steps {
		if st.Signed == nil {
			continue
		}
		f.Finished = max(f.Finished, st.Signed.At)
		if word("builder") == "" && !slices.Contains(f.Builders, st.Signed.By) {
			f.Builders = append(f.Builders, st.Signed.By)
		}
	}
	return f
}

// cautionsOf are the plan's own cautions, without those that say again what stands on every sheet.
func cautionsOf(s Sheet) []string {
	return slices.DeleteFunc(slices.Clone(s.Cautions), func(c string) bool {
		c = strings.ToLower(c)
		return strings.Contains(c, "advises") || strings.Contains(c, "advice") || c == strings.ToLower(s.Caution)
	})
}
