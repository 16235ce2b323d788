package plan

import "strings"

// nearest finds the one of several words that somebody probably meant by another, "" where none is near: it holds the
// other or is held by it, or a slip or two of the fingers lie between.
func nearest(word string, among []string) string {
	if word = strings.ToLower(word); len(word) < 3 {
		return "" // of so few letters nothing can be told
	}
	best, least := "", max(1, len(word)/3)+1
	for _, w := range among {
		d := slips(word, w)
		if len(w) >= 3 && (strings.Contains(word, w) || strings.Contains(w, word)) {
			d = min(d, 1)
		}
		if d < least {
			best, least = w, d
		}
	}
	return best
}

// Nearest finds the one of several names that somebody probably meant by another, "" where none is near.
func Nearest(name string, among []string) string { return nearest(name, among) }

// meant is the tail of a message: which word was probably meant, or all there are.
func meant(word string, among []string) string {
	switch near := nearest(word, among); {
	case near != "":
		return "; did you mean \"" + near + "\"?"
	case len(among) == 0 || len(among) > 40:
		return ""
	}
	return "; there are " + strings.Join(among, ", ")
}

// guess is the middle of a message: which word was probably meant, "" where none is near.
func guess(word string, among []string) string {
	if near := nearest(word, among); near != "" {
		return "; did you mean \"" + near + "\"?"
	}
	return ""
}

// slips counts the letters put in, left out, changed or swapped between two words (optimal string alignment). Names are
// of 64 letters at most, so the table stays small.
func slips(a, b string) int {
	const most = 64
	a, b = a[:min(len(a), most)], b[:min(len(b), most)]
	var rows [3][most + 1]int
	before, last, row := &rows[0], &rows[1], &rows[2]
	for j := range len(b) + 1 {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
