package bus

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"thoud/capture/bench"
)

// RawEntry is an entry as it lies in the stream's files.
type RawEntry struct {
	N    uint64
	Prev string
	Body []byte
}

// rawBlocks is how many of the newest files of messages are looked into: the server cuts off what lies behind a damaged
// message in the newest one when it starts, and begins another where that was full.
const rawBlocks = 2

// RawEntries finds the entries that lie in the newest files of a stream, by what they are made of and not by what the
// server makes of them. It is asked before the server starts: where it meets a damaged message it cuts off what follows,
// and says nothing. An entry whose bytes can no longer be read is left out. The same number may come more than once.
func RawEntries(dir, benchName string) ([]RawEntry, error) {
	files, err := filepath.Glob(filepath.Join(dir, "jetstream", "*", "streams", "thoud-"+benchName, "msgs", "*.blk"))
	if err != nil {
		return nil, fmt.Errorf("bus: %w", err)
	}
	number := func(path string) int {
		n, err := strconv.Atoi(strings.TrimSuffix(filepath.Base(path), ".blk"))
		if err != nil {
			return -1
		}
		return n
	}
	slices.SortFunc(files, func(a, b string) int { return cmp.Compare(number(a), number(b)) })
	var out []RawEntry
	for _, file := range files[max(0, len(files)-rawBlocks):] {
		b, err := os.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("bus: %w", err)
		}
		out = append(out, rawIn(b, benchName)...)
	}
	slices.SortStableFunc(out, func(a, b RawEntry) int { return cmp.Compare(a.N, b.N) })
	return out, nil
}

// rawIn finds entries in the bytes of a file.
func rawIn(b []byte, benchName string) []RawEntry {
	begin := fmt.Appendf(nil, `{"v":%d,"bench":%q,`, bench.Version, benchName)
	var out []RawEntry
	for {
		at := bytes.Index(b, begin)
		if at < 0 {
			return out
		}
		b = b[at:]
		var body json.RawMessage
		if err := json.NewDecoder(bytes.NewReader(b)).Decode(&body); err == nil {
			if e, err := bench.Decode(body); err == nil {
				out = append(out, RawEntry{e.N, e.Prev, bytes.Clone(body)})
			}
		}
		b = b[len(begin):]
	}
}
