package calc

import (
	"fmt"
)

// Bounds of a request, so that every method answers or refuses within a second whatever it is given. A sweep on the bench
// ends at as many samples as a list may have.
const (
	mostMembers = 5_000  // of one list, or numbers of one grid or cube
	mostRecords = 500    // of a list of objects
	mostNumbers = 20_000 // of all inputs together
)

// checkSize refuses a request that is larger than any bench makes.
func checkSize(inputs []Input, vals map[string]Val) error {
	total := 0
	err := sizeOf(inputs, vals, "", &total)
	if err == nil && total > mostNumbers {
		err = &InputError{"input", fmt.Sprintf("%d values", total), fmt.Sprintf("at most %d in all: thin a sweep out, or give it in parts", mostNumbers)}
	}
	return err
}

// sizeOf adds up the numbers of inputs and refuses a list that is too long.
func sizeOf(inputs []Input, vals map[string]Val, path string, total *int) error {
	for _, name := range Sorted(vals) { // sorted, so that of two faults the same is always told
		v := vals[name]
		in, _ := FindInput(inputs, name)
		n, most := len(v.List)+len(v.Texts), mostMembers
		for _, row := range v.Grid {
			n += len(row)
		}
		for _, page := range v.Cube {
			for _, row := range page {
				n += len(row)
			}
		}
		if len(v.Recs) > 0 {
			n, most = len(v.Recs), mostRecords
		}
		if in.Most > 0 {
			most = in.Most
		}
		if n > most {
			return &InputError{path + name, fmt.Sprintf("%d values", n), fmt.Sprintf("at most %d of them", most)}
		}
		*total += n + 1
		if err := sizeOf(in.Fields, v.Rec, path+name+".", total); err != nil {
			return err
		}
		for i, r := range v.Recs {
			if err := sizeOf(in.Fields, r, fmt.Sprintf("%s%s[%d].", path, name, i), total); err != nil {
				return err
			}
		}
	}
	return nil
}
