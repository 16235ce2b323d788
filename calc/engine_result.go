package calc

import "thoud/calc/quantity"

// Verdict is what ISO 14253-1 lets one say about a figure and its limits.
type Verdict string

// The verdicts; NoVerdict where a figure has no limits.
const (
	VerdictIn       Verdict = "in"
	VerdictOut      Verdict = "out"
	VerdictTooClose Verdict = "too close to call"
	NoVerdict       Verdict = ""
)

// Worse gives the verdict that counts for both: out before too close to call before in.
func (v Verdict) Worse(w Verdict) Verdict {
	rank := map[Verdict]int{NoVerdict: 0, VerdictIn: 1, VerdictTooClose: 2, VerdictOut: 3}
	if rank[w] > rank[v] {
		return w
	}
	return v
}

// FigureResult is one figure as computed. Numbers are in the kind's base unit; Value serves a scalar, List and Grid the
// others, Text words. U is the expanded uncertainty (ULists of a list), k the coverage factor; both 0 where the inputs
// came without uncertainty or the figure is a choice.
type FigureResult struct {
	Name    string        `json:"name"`
	Kind    quantity.Kind `json:"kind"`
	Value   *float64      `json:"value,omitempty"`
	List    []float64     `json:"list,omitempty"`
	Grid    [][]float64   `json:"grid,omitempty"`
	Text    []string      `json:"text,omitempty"`
	Several bool          `json:"several,omitempty"` // a list of words, even where it holds just one
	Flag    *bool         `json:"flag,omitempty"`    // yes or no; Text says it too
	U       float64       `json:"U,omitempty"`
	K       float64       `json:"k,omitempty"`
	Dof     float64       `json:"dof,omitempty"` // effective degrees of freedom, 0 = infinite
	ULists  []float64     `json:"U_list,omitempty"`
	AtLeast bool          `json:"at_least,omitempty"` // it may be more than Value, not less
	From    string        `json:"from,omitempty"`     // what U goes by where a fit gives the figure: "stated" or "scatter"
	Common  []Component   `json:"common,omitempty"`   // where it was asked for: the part of U/K that comes of shared errors, with its sign
	Limit   *Limit        `json:"limit,omitempty"`
	Verdict Verdict       `json:"verdict,omitempty"`
	Reason  string        `json:"reason,omitempty"` // of the verdict, with what to do where it is too close to call; lengths in both systems
	Why     Shown         `json:"why,omitzero"`     // the same in one system each; results of older versions have it not
	Shown   Shown         `json:"shown"`            // for people, in both systems, honest digits
	ShownU  Shown         `json:"shown_u"`          // the same of U: "± 0.0004 in"; empty where there is none
}

// ReasonIn is the reason of the verdict in a system.
func (f FigureResult) ReasonIn(sys quantity.System) string {
	if s := f.Why.In(sys); s != "" {
		return s
	}
	return f.Reason
}

// Shown is a text in both unit systems.
type Shown struct {
	MM   string `json:"mm"`
	Inch string `json:"inch"`
}

// AdjustmentResult is one adjustment with its words filled in.
type AdjustmentResult struct {
	What      string        `json:"what"`
	Amount    float64       `json:"amount"` // base unit of Kind
	Kind      quantity.Kind `json:"kind"`
	Unit      string        `json:"unit,omitempty"` // what a Number counts: "flats", "turns"
	Direction string        `json:"direction"`
	Pieces    []float64     `json:"pieces,omitempty"`
	Words     Shown         `json:"words"`  // the whole sentence
	Large     Shown         `json:"large"`  // the amount alone, for the large figures: "0.0221 in"
	Target    bool          `json:"target"` // false where there is nothing to move any more
	// Verdict is that of the figures which the order answers; empty where they have no limits. Beside "in" the amount
	// stays, so that the next pass can be held against it, but it is not an order: the words say to leave it.
	Verdict Verdict `json:"verdict,omitempty"`
}

// Result is a computation as it is stored and shown.
type Result struct {
	Method     string             `json:"method"`
	Version    int                `json:"version"`
	Figures    []FigureResult     `json:"figures,omitempty"`
	Adjustment []AdjustmentResult `json:"adjustment,omitempty"`
	// EachAnswers is set where every adjustment carries the verdict it answers; results of older versions have one for all.
	EachAnswers bool     `json:"each_answers,omitempty"`
	Verdict     Verdict  `json:"verdict,omitempty"` // the worst of the figures'
	GaugeOnly   bool     `json:"gauge_only,omitempty"`
	Warnings    []string `json:"warnings,omitempty"`
	Refused     string   `json:"refused,omitempty"` // why there is no answer; then only Refusal stands beside it
	Refusal     *Refusal `json:"refusal,omitempty"` // the same in its parts; results of older versions have it not
}

// Figure finds a figure by name.
func (r Result) Figure(name string) (FigureResult, bool) {
	for _, f := range r.Figures {
		if f.Name == name {
			return f, true
		}
	}
	return FigureResult{}, false
}
