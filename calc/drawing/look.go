package drawing

import (
	"fmt"
	"strings"
)

// Ink is a colour by its meaning; Colours gives it for a theme.
type Ink string

// The inks. None is no stroke or no fill.
const (
	None  Ink = ""
	Paper Ink = "paper"  // the ground
	Black Ink = "ink"    // lines and text
	Soft  Ink = "soft"   // lines and text of the second rank
	Lit   Ink = "lit"    // what is meant now
	Wash  Ink = "wash"   // the fill of what is meant now, and liquids
	OnLit Ink = "on-lit" // text on a fill of Lit
)

// Look is how a class is drawn. Lengths are in the units of the drawing.
type Look struct {
	Stroke, Fill Ink
	Width        float64
	Dash         []float64
	Butt         bool    // square ends instead of round ones
	Size         float64 // of a text
	Bold         bool
	Edge         float64 // how wide the paper around a text is, so that no line strikes it through
}

// Class names of the looks.
const (
	classOutline  = "outline"
	classBody     = "body"
	classGround   = "ground"
	classCut      = "cut"
	classHatch    = "hatch"
	classThin     = "thin"
	classThinBody = "thin-body"
	classAxis     = "axis"
	classHidden   = "hidden"
	classOther    = "other"
	classHead     = "head"
	classLit      = "lit"
	classLitBody  = "lit-body"
	classLitCut   = "lit-cut"
	classLitWash  = "lit-wash"
	classLitLine  = "lit-line"
	classWash     = "wash"
	classTip      = "tip"
	classMove     = "move"
	classMoveLine = "move-line"
	classBack     = "back"
	classBackLine = "back-line"
	classBar      = "bar"
	classRing     = "ring"
	classRingLit  = "ring-lit"
	classChain    = "chain"
	classChainLit = "chain-lit"
	classCable    = "cable"
	classFlag     = "flag"

	classNote   = "note"
	classValue  = "value"
	classFigure = "figure"
	className   = "name"
	classOnWash = "on-wash"
	classOnFlag = "on-flag"
	classDone   = "done"
)

// looks is the table of line kinds (ISO 128) and of lettering. Thin lines are half as wide as thick ones.
var looks = map[string]Look{
	classOutline:  {Stroke: Black, Width: 5},
	classBody:     {Stroke: Black, Fill: Paper, Width: 5},
	classGround:   {Fill: Paper},
	classCut:      {Stroke: Black, Width: 5},
	classHatch:    {Stroke: Soft, Width: 1.8},
	classThin:     {Stroke: Black, Width: 2.5},
	classThinBody: {Stroke: Black, Fill: Paper, Width: 2.5},
	classAxis:     {Stroke: Soft, Width: 2.2, Dash: []float64{30, 7, 3, 7}, Butt: true},
	classHidden:   {Stroke: Soft, Width: 2.5, Dash: []float64{12, 8}, Butt: true},
	classOther:    {Stroke: Black, Width: 2.5, Dash: []float64{24, 6, 3, 6, 3, 6}, Butt: true},
	classHead:     {Fill: Black},
	classLit:      {Stroke: Lit, Width: 8},
	classLitBody:  {Stroke: Lit, Fill: Paper, Width: 8},
	classLitCut:   {Stroke: Lit, Width: 8},
	classLitWash:  {Stroke: Lit, Fill: Wash, Width: 8},
	classLitLine:  {Stroke: Lit, Width: 10},
	classWash:     {Stroke: Lit, Fill: Wash, Width: 4},
	classTip:      {Stroke: Paper, Fill: Lit, Width: 3},
	classMove:     {Stroke: Paper, Fill: Lit, Width: 3},
	classMoveLine: {Stroke: Lit, Width: 12, Butt: true},
	classBack:     {Stroke: Lit, Fill: Paper, Width: 4},
	classBackLine: {Stroke: Lit, Width: 4, Dash: []float64{10, 6}, Butt: true},
	classBar:      {Stroke: Black, Width: 9, Butt: true},
	classRing:     {Stroke: Black, Width: 11, Butt: true},
	classRingLit:  {Stroke: Lit, Width: 17, Butt: true},
	classChain:    {Stroke: Black, Width: 9, Dash: []float64{15, 5}, Butt: true},
	classChainLit: {Stroke: Lit, Width: 12, Dash: []float64{15, 5}, Butt: true},
	classCable:    {Stroke: Black, Width: 8},
	classFlag:     {Stroke: Paper, Fill: Lit, Width: 4},

	classNote:   {Fill: Soft, Size: 30, Edge: 8},
	classValue:  {Fill: Black, Size: 38, Bold: true, Edge: 8},
	classFigure: {Fill: Black, Size: 46, Bold: true, Edge: 9},
	className:   {Fill: Lit, Size: 50, Bold: true, Edge: 9},
	classOnWash: {Fill: Lit, Size: 46, Bold: true},
	classOnFlag: {Fill: OnLit, Size: 40, Bold: true},
	classDone:   {Fill: Soft, Size: 34, Edge: 8},
}

// LookOf gives the look of a class, and whether there is one.
func LookOf(class string) (Look, bool) {
	l, ok := looks[class]
	return l, ok
}

// Theme is one set of colours.
type Theme string

// The themes.
const (
	Light Theme = "light"
	Dark  Theme = "dark"
	Print Theme = "print"
)

// Colours gives the inks of a theme as #rrggbb.
func Colours(t Theme) map[Ink]string {
	switch t {
	case Dark:
		return map[Ink]string{Paper: "#14171a", Black: "#f4f1ea", Soft: "#b9bec4", Lit: "#a9cdf7", Wash: "#25405f", OnLit: "#0c1218"}
	case Print:
		return map[Ink]string{Paper: "#ffffff", Black: "#000000", Soft: "#444444", Lit: "#000000", Wash: "#dddddd", OnLit: "#ffffff"}
	}
	return map[Ink]string{Paper: "#f7f4ec", Black: "#16191d", Soft: "#4a4f55", Lit: "#123f73", Wash: "#d5e2f1", OnLit: "#ffffff"}
}

var inks = []Ink{Paper, Black, Soft, Lit, Wash, OnLit}

// Class is the class of the svg element itself.
const Class = "scene"

// Style is the style sheet of the drawings for a page that shows them: the looks, in light, in dark (by the reader's system, or by
// data-theme on the root element), and black on white in print. A page whose ground is another may set --scene-paper.
func Style() string {
	var b strings.Builder
	at := "svg." + Class
	fmt.Fprintf(&b, "%s { display: block; width: 100%%; height: auto; %s%s }\n", at, lettering, vars(Light))
	fmt.Fprintf(&b, "@media (prefers-color-scheme: dark) { :root:not([data-theme=\"light\"]) %s {%s } }\n", at, vars(Dark))
	fmt.Fprintf(&b, ":root[data-theme=\"dark\"] %s {%s }\n", at, vars(Dark))
	fmt.Fprintf(&b, "@media print { :root:root:root %s {%s } }\n", at, vars(Print))
	b.WriteString(rules())
	return b.String()
}

// StyleIn is the style sheet in one theme, whatever the reader's: for a page that is always white.
func StyleIn(t Theme) string {
	return "svg." + Class + " { display: block; width: 100%; height: auto; " + lettering + vars(t) + " }\n" + rules()
}

const lettering = `font-family: "Liberation Sans", Arial, Helvetica, sans-serif; font-variant-numeric: tabular-nums;`

// vars are the inks of a theme as custom properties.
func vars(t Theme) string {
	var v strings.Builder
	c := Colours(t)
	for _, i := range inks {
		fmt.Fprintf(&v, " --scene-%s: %s;", i, c[i])
	}
	return v.String()
}

// rules are the looks by class.
func rules() string {
	var b strings.Builder
	for _, c := range Classes() {
		fmt.Fprintf(&b, "svg.%s .%s { %s }\n", Class, c, looks[c].css())
	}
	return b.String()
}

// css writes a look as declarations.
func (l Look) css() string {
	of := func(i Ink) string {
		if i == None {
			return "none"
		}
		return "var(--scene-" + string(i) + ")"
	}
	if l.Size > 0 {
		s := fmt.Sprintf("fill: %s; font-size: %gpx;", of(l.Fill), l.Size)
		if l.Bold {
			s += " font-weight: 700;"
		}
		if l.Edge > 0 {
			s += fmt.Sprintf(" paint-order: stroke; stroke: %s; stroke-width: %gpx; stroke-linejoin: round;", of(Paper), l.Edge)
		}
		return s
	}
	s := fmt.Sprintf("fill: %s; stroke: %s;", of(l.Fill), of(l.Stroke))
	if l.Width > 0 {
		s += fmt.Sprintf(" stroke-width: %g;", l.Width)
	}
	if len(l.Dash) > 0 {
		s += " stroke-dasharray:" + strings.TrimSuffix(strings.ReplaceAll(fmt.Sprint(l.Dash), "[", " "), "]") + ";"
	}
	if l.Butt {
		return s + " stroke-linecap: butt; stroke-linejoin: round;"
	}
	return s + " stroke-linecap: round; stroke-linejoin: round;"
}
