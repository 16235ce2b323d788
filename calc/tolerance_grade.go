package calc

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// toleranceGrade is the width of a tolerance grade for a nominal size, from the table of ISO 286-1.
//
//	tolerance unit i = 0.45·∛D + 0.001·D   (µm, D in mm: the geometric mean of the size range)
//
// A size on the border of two ranges belongs to the lower ("over … up to and including"). Sizes to 500 mm, grades IT1 to
// IT16. Refused: a size beyond 500 mm. ISO 286-1:2010, table 1; rows of sizes to 120 mm and grades IT5 to IT8 checked
// against print, the others from memory and held to the formula.
func toleranceGrade() Method {
	return Method{
		Name: "tolerance-grade", Version: 1, Title: "Tolerance grade of a size",
		Inputs: []Input{
			{Name: "size", Kind: quantity.Length, Positive: true, Doc: "nominal size"},
			{Name: "grade", Shape: Text, Doc: `grade, as "IT7"`},
		},
		Figures: []Figure{
			{Name: "tolerance", Kind: quantity.Length, Choice: true, Doc: "width of the tolerance"},
			{Name: "tolerance_unit", Kind: quantity.Length, Choice: true, Doc: "the standard's tolerance unit i of the size range"},
		},
		Formula:  "ISO 286-1 table; i = 0.45·∛D + 0.001·D",
		Source:   "ISO 286-1:2010",
		Cautions: []string{"A grade is a width, not a fit: where the band lies is another letter."},
		Compute:  computeToleranceGrade,
	}
}

func computeToleranceGrade(in Args, out *Out) error {
	grade := in.Text("grade")
	n, err := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(grade)), "IT"))
	if err != nil || n < 1 || n > 16 || !strings.HasPrefix(strings.ToUpper(strings.TrimSpace(grade)), "IT") {
		return &InputError{"grade", fmt.Sprintf("%q", grade), "a grade from IT1 to IT16"}
	}
	size := in.Num("size")
	over := 0.0
	for _, r := range gradeTable() {
		if tenths(size) <= tenths(r.upTo) {
			out.Set("tolerance", r.widths[n-1]/1000)
			out.Set("tolerance_unit", toleranceUnit(over, r.upTo)/1000)
			return nil
		}
		over = r.upTo
	}
	return Refuse("size", "use the table for larger sizes in the standard", "%.3f mm is over 500 mm", size)
}

// toleranceUnit is i in µm of a size range; the first range counts from 1 mm.
func toleranceUnit(over, upTo float64) float64 {
	d := math.Sqrt(math.Max(over, 1) * upTo)
	return 0.45*math.Cbrt(d) + 0.001*d
}

type gradeRow struct {
	upTo   float64     // mm, including
	widths [16]float64 // IT1 … IT16, µm
}

func gradeTable() []gradeRow {
	return []gradeRow{
		{3, [16]float64{0.8, 1.2, 2, 3, 4, 6, 10, 14, 25, 40, 60, 100, 140, 250, 400, 600}},
		{6, [16]float64{1, 1.5, 2.5, 4, 5, 8, 12, 18, 30, 48, 75, 120, 180, 300, 480, 750}},
		{10, [16]float64{1, 1.5, 2.5, 4, 6, 9, 15, 22, 36, 58, 90, 150, 220, 360, 580, 900}},
		{18, [16]float64{1.2, 2, 3, 5, 8, 11, 18, 27, 43, 70, 110, 180, 270, 430, 700, 1100}},
		{30, [16]float64{1.5, 2.5, 4, 6, 9, 13, 21, 33, 52, 84, 130, 210, 330, 520, 840, 1300}},
		{50, [16]float64{1.5, 2.5, 4, 7, 11, 16, 25, 39, 62, 100, 160, 250, 390, 620, 1000, 1600}},
		{80, [16]float64{2, 3, 5, 8, 13, 19, 30, 46, 74, 120, 190, 300, 460, 740, 1200, 1900}},
		{120, [16]float64{2.5, 4, 6, 10, 15, 22, 35, 54, 87, 140, 220, 350, 540, 870, 1400, 2200}},
		{180, [16]float64{3.5, 5, 8, 12, 18, 25, 40, 63, 100, 160, 250, 400, 630, 1000, 1600, 2500}},
		{250, [16]float64{4.5, 7, 10, 14, 20, 29, 46, 72, 115, 185, 290, 460, 720, 1150, 1850, 2900}},
		{315, [16]float64{6, 8, 12, 16, 23, 32, 52, 81, 130, 210, 320, 520, 810, 1300, 2100, 3200}},
		{400, [16]float64{7, 9, 13, 18, 25, 36, 57, 89, 140, 230, 360, 570, 890, 1400, 2300, 3600}},
		{500, [16]float64{8, 10, 15, 20, 27, 40, 63, 97, 155, 250, 400, 630, 970, 1550, 2500, 4000}},
	}
}
