package calc

import "strings"

// figureWords are what a figure is called where its name alone does not read as words of the trade. A figure that is not here
// is called by its name.
var figureWords = map[string]string{
	"clearance_at_20":     "clearance at 20 °C",
	"clearance_max":       "greatest clearance",
	"clearance_min":       "least clearance",
	"finish_bore_at_20":   "finished bore at 20 °C",
	"finish_bore_now":     "finished bore as warm as now",
	"finish_reading":      "reading when finished",
	"greatest_at":         "which is the greatest, counted",
	"grr_percent":         "share of the tolerance, in percent",
	"lag1":                "how much each follows the one before",
	"max_advance":         "most advance",
	"max_retard":          "most retard",
	"min_after":           "least clearance after the change",
	"min_clearance":       "least clearance",
	"min_pilot_depth":     "least depth of the small hole",
	"n":                   "readings",
	"piston_at_20":        "piston at 20 °C",
	"r2":                  "share of the spread that is told",
	"reading_at_tdc":      "reading at top dead centre",
	"rms":                 "how far the readings lie off the curve",
	"sd":                  "standard deviation",
	"stock_max":           "most to take out",
	"stock_min":           "least to take out",
	"tdc":                 "top dead centre",
	"tdc_reverse":         "top dead centre, turned back",
	"tdc_to_bdc":          "from top to bottom dead centre",
	"tip_to_pilot_bottom": "air under the tip",
	"u_tdc":               "uncertainty of top dead centre",
}

// FigureWords is how people call a figure: "least clearance" for min_clearance.
func FigureWords(name string) string {
	if w, ok := figureWords[name]; ok {
		return w
	}
	return strings.ReplaceAll(name, "_", " ")
}
