package bus

import (
	"fmt"
	"testing"

	"thoud/capture/bench"
)

// Entries are found between whatever bytes, and what is damaged is left out.
func TestEntriesAreFoundInAFile(t *testing.T) {
	var file []byte
	var c bench.Chain
	for n := range uint64(5) {
		e, body, err := c.Number(bench.Entry{Bench: "one", ID: fmt.Sprint("id-", n), Kind: bench.Dropped, Item: `a "{" and a }`})
		if err == nil {
			c, err = c.Next(e, body)
		}
		if err != nil {
			t.Fatal(err)
		}
		if n == 2 {
			body[len(body)-1] = '?' // never ends
		}
		file = append(file, "\x00\x17{\"v\":1,\"bench\":\"two\",\"n\":9}\x80"...)
		file = append(file, body...)
	}
	var got []uint64
	for _, r := range rawIn(file, "one") {
		got = append(got, r.N)
	}
	if fmt.Sprint(got) != "[1 2 4 5]" {
		t.Errorf("entries %v, want 1 2 4 5", got)
	}
}
