package bench

import (
	"fmt"
	"slices"
	"testing"

	"thoud/calc/quantity"
)

func TestStillness(t *testing.T) {
	for _, c := range []struct {
		name   string
		values []float64 // in 0.1 s steps, thousandths of an inch; band 1, leave 10, dwell 0.3 s
		want   []int     // where it settles
	}{
		{"never leaves", []float64{0, 9, 0, 9, 9, 9, 9, 9}, nil},
		{"leaves and stands", []float64{0, 20, 20, 20, 20, 20}, []int{4}},
		{"within the band", []float64{0, 20, 20.5, 19.8, 20.2, 20}, []int{4}},
		{"beyond the band", []float64{0, 20, 21.5, 20, 21.5, 20, 21.5, 20}, nil},
		{"a jump starts the dwell anew", []float64{0, 20, 20, 30, 30, 30, 30}, []int{6}},
		{"passes back over the old place", []float64{0, 20, 0, 0, 0, 0, 0}, []int{5}},
	} {
		s := &Stillness{}
		var got []int
		for i, v := range c.values {
			raw, err := quantity.Parse(fmt.Sprintf("%.4f in", v/1000))
			if err != nil {
				t.Fatal(err)
			}
			if s.settled(raw, int64(i)*100_000, 0.0254, 0.254, 300_000) {
				got = append(got, i)
				s.Left(raw)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: settles at %v, want %v", c.name, got, c.want)
		}
	}
}
