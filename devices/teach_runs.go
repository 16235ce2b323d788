package devices

import (
	"strconv"
	"strings"
)

// run is where the figures stand in one line.
type run struct {
	press      int
	line       string
	start, end int
	places     int
	point      bool
}

// followed takes the k-th run of figures of each line and checks that it follows the display: the same number, or the
// whole counts without a mark, which then need a scale.
func followed(lines []taughtLine, presses []Press, k int, mark string) (runs []run, scale string, ok bool) {
	direct, counts := true, true
	places, step := -1, int64(0)
	for _, l := range lines {
		line, shown := l.text, presses[l.press].Shown
		r, ok := nthRun(line, k, mark[0])
		if !ok {
			return nil, "", false
		}
		want, ok := shownDigits(shown)
		if !ok {
			return nil, "", false
		}
		d, why := parseDigits([]byte(line[r.start:r.end]), mark[0])
		if why != "" {
			return nil, "", false
		}
		r.press, r.places = l.press, d.places
		want = max(want, -want)
		direct = direct && d.digits == want && d.places == shown.Places
		counts = counts && !r.point && (places < 0 || places == shown.Places)
		places = shown.Places
		switch {
		case d.digits == 0:
			counts = counts && want == 0
		case step == 0 && want%d.digits == 0:
			step = want / d.digits
		}
		counts = counts && want == step*d.digits
		runs = append(runs, r)
	}
	switch {
	case direct:
		return runs, "1", true
	case counts && step > 0:
		text := strconv.FormatInt(step, 10)
		if len(text) <= places {
			text = strings.Repeat("0", places-len(text)+1) + text
		}
		return runs, strings.TrimSuffix(text[:len(text)-places]+"."+text[len(text)-places:], "."), true
	}
	return nil, "", false
}

// nthRun finds the k-th run of figures with at most one mark between figures.
func nthRun(line string, k int, mark byte) (run, bool) {
	digit := func(i int) bool { return i < len(line) && line[i] >= '0' && line[i] <= '9' }
	for i := 0; i < len(line); i++ {
		if !digit(i) {
			continue
		}
		r := run{line: line, start: i}
		for digit(i) || i < len(line) && line[i] == mark && !r.point && digit(i+1) {
			r.point = r.point || line[i] == mark
			i++
		}
		r.end = i
		if k == 0 {
			return r, true
		}
		k--
	}
	return run{}, false
}

// parts is a line taken apart around its number.
type parts struct {
	before string // without the blanks at its end
	gap1   int    // blanks between before and the sign
	sign   byte   // 0 for none
	gap2   int    // blanks between the sign and the number
	number string
	after  string
}

func takeApart(r run) parts {
	p := parts{number: r.line[r.start:r.end], after: r.line[r.end:]}
	head := r.line[:r.start]
	trimmed := strings.TrimRight(head, " ")
	blanks := len(head) - len(trimmed)
	if n := len(trimmed); n > 0 && (trimmed[n-1] == '+' || trimmed[n-1] == '-') {
		p.sign, p.gap2 = trimmed[n-1], blanks
		head = trimmed[:n-1]
		trimmed = strings.TrimRight(head, " ")
		blanks = len(head) - len(trimmed)
	}
	p.before, p.gap1 = trimmed, blanks
	return p
}
