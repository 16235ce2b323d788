package hub

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
)

// Limits of a page. One entry always fits: the bus takes none that is larger than a message.
const (
	MostEntries = 500
	MostBytes   = 700 << 10
)

// Ask is a question to a bench: for entries from a number on, for results after a row, or where it was at some number.
type Ask struct {
	From  uint64 `json:"from,omitempty"`  // entries: the first number that is wanted
	After int64  `json:"after,omitempty"` // results: the bench's own number of the last that is there
	Max   int    `json:"max,omitempty"`
	// At and Told ask for the seal of an entry and for the sum over so many results.
	At   uint64 `json:"at,omitempty"`
	Told int    `json:"told,omitempty"`
	Seal string `json:"seal,omitempty"` // asked of a hub: the seal of the entry before From
	Hub  string `json:"hub"`            // who asks
}

// Head is what stands before the bodies of a page.
type Head struct {
	Bench   string `json:"bench"`
	Machine string `json:"machine,omitempty"` // which machine answers: two of one name are told apart by it
	Host    string `json:"host,omitempty"`    // its name, for people
	Version string `json:"version,omitempty"` // of the program
	Fault   string `json:"fault,omitempty"`   // why nothing is given

	Known  bool   `json:"known,omitempty"`  // the ledger has the entry before the first that was asked for
	Before string `json:"before,omitempty"` // its seal; of results, the sum up to the row that was asked for
	After  string `json:"after,omitempty"`  // the seal of the last entry given; of results, the sum over them
	Sizes  []int  `json:"sizes,omitempty"`  // of the bodies that follow

	Last     uint64 `json:"last,omitempty"` // where the ledger ends
	LastSeal string `json:"last_seal,omitempty"`
	Results  int    `json:"results,omitempty"` // how many results it has
	LastRow  int64  `json:"last_row,omitempty"`
	Running  string `json:"running,omitempty"`
	Note     string `json:"note,omitempty"` // signed by the bench where the page reaches the end

	// What is wrong at the bench, with the bench's own time (µs since 1970) when it said so.
	Troubles []Trouble `json:"troubles,omitempty"`
	Now      int64     `json:"now,omitempty"`

	Rows []RowHead `json:"rows,omitempty"` // of results
}

// RowHead is what a result's row is known by; its request, if it is sent, and its body follow among the bodies.
type RowHead struct {
	Row     int64  `json:"row"`
	Old     bool   `json:"old,omitempty"`
	Asked   string `json:"asked,omitempty"`   // hash of the request
	Request bool   `json:"request,omitempty"` // the request follows; else it is that of an earlier row of the page
}

// Page is an answer: a head in JSON, a line's end, and the bodies as they are, one after another.
type Page struct {
	Head
	Bodies [][]byte
	Other  string // the host of another machine that answers by the same name; set by who asked
}

// Bytes writes a page.
func (p Page) Bytes() ([]byte, error) {
	p.Sizes = make([]int, len(p.Bodies))
	total := 0
	for i, b := range p.Bodies {
		p.Sizes[i] = len(b)
		total += len(b)
	}
	head, err := json.Marshal(p.Head)
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	out := make([]byte, 0, len(head)+1+total)
	out = append(append(out, head...), '\n')
	for _, b := range p.Bodies {
		out = append(out, b...)
	}
	return out, nil
}

var errPage = errors.New("the page cannot be read")

// ParsePage reads a page. What is left over, or missing, is a fault.
func ParsePage(b []byte) (Page, error) {
	var p Page
	head, rest, ok := bytes.Cut(b, []byte{'\n'})
	if !ok {
		return p, fmt.Errorf("%w: it has no head", errPage)
	}
	if err := json.Unmarshal(head, &p.Head); err != nil {
		return p, fmt.Errorf("%w: %w", errPage, err)
	}
	for i, n := range p.Sizes {
		if n < 0 || n > len(rest) {
			return Page{}, fmt.Errorf("%w: body %d has %d bytes, %d are left", errPage, i+1, n, len(rest))
		}
		p.Bodies = append(p.Bodies, rest[:n:n])
		rest = rest[n:]
	}
	if len(rest) > 0 {
		return Page{}, fmt.Errorf("%w: %d bytes are left over", errPage, len(rest))
	}
	return p, nil
}
