package hub

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"thoud/capture/bench"
)

// Line is one history of a bench as the hub has it. A bench has one; where it went on from an older copy of itself, the
// entries that differ are a line of their own.
type Line struct {
	Name    string // under which its rows are kept: NAME, NAME~2
	Parent  string // the line it parts from; "" for the first
	Parted  bench.Chain
	Shared  int      // results that it shares with that line
	Begin   [32]byte // the sum over those
	Row     int64    // the bench's own number of the last result that is here
	Results int      // how many results there are, the shared ones too
	Running [32]byte // the sum over them
	Note    string   // what the bench signed last of where it ends
	Machine string   // from which machine it comes, with the key it came by
	At      int64    // µs since 1970, UTC, when something of it was taken last
	End     bench.Chain
}

// lineMark stands between a bench's name and the number of its line. No bench's name has it.
const lineMark = "~"

// LineName names the k-th line of a bench.
func LineName(benchName string, k int) string {
	if k <= 1 {
		return benchName
	}
	return fmt.Sprint(benchName, lineMark, k)
}

// BenchOf is the bench that a line is a history of, and which.
func BenchOf(line string) (benchName string, k int) {
	name, number, ok := strings.Cut(line, lineMark)
	if !ok {
		return name, 1
	}
	k, err := strconv.Atoi(number)
	if err != nil {
		return line, 1
	}
	return name, k
}

// sortLines puts the lines of one bench in the order they began.
func sortLines(lines []Line) {
	slices.SortFunc(lines, func(a, b Line) int {
		_, x := BenchOf(a.Name)
		_, y := BenchOf(b.Name)
		return cmp.Compare(x, y)
	})
}

// hereAt is the seal that a line has at an entry, its own or one that it shares.
type hereAt func(line string, n uint64) (bench.Seal, bool, error)
