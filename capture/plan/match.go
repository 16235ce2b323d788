package plan

import "strings"

// Match reports whether a point's id fits a pattern of a reference, and what stood for its stars, in order. Both are
// parted at the dots, and "*" stands for exactly one part: "left.*" fits "left.start" and not "left.10mm.pin";
// "left.*.*" fits that one, with the stars "10mm" and "pin" (the row and the column of a grid).
func Match(pattern, id string) (stars []string, ok bool) {
	for {
		p, prest, pmore := strings.Cut(pattern, ".")
		i, irest, imore := strings.Cut(id, ".")
		if p == "*" {
			stars = append(stars, i)
		} else if p != i {
			return nil, false
		}
		if pmore != imore {
			return nil, false
		}
		if !pmore {
			return stars, true
		}
		pattern, id = prest, irest
	}
}
