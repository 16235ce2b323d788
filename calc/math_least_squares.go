package calc

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// slope is the slope of the straight line of least squares through (x, y).
func slope(x, y []float64) float64 {
	_, b := stat.LinearRegression(x, y, nil, false)
	return b
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }
func degrees(rad float64) float64 { return rad * 180 / math.Pi }
