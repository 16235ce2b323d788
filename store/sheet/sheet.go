// Package sheet is the build sheet of one engine: what was asked, read, found, moved, decided and signed, from the
// bench's state and the results of its passes. One model, Sheet, is written as a page (HTML), as PDF, as a table (CSV)
// and as JSON by sheet.schema.json. It computes nothing that a verdict rests on: figures, limits and verdicts are those
// of the results; it only takes differences to say whether what was asked was done.
package sheet

import (
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Form is the version of the JSON form.
const Form = 1

// Caution stands on every sheet.
const Caution = "This sheet advises. The maker's data, local rules and a qualified person decide; a passed sheet is no proof that an engine is fit to run."

// Source is what a sheet is made from.
type Source struct {
	State   bench.State
	Job     string
	History []bench.Result           // what stands of the build's results, and those computed again, in the order computed
	Photos  map[string]bench.Picture // by the id of the photo's entry; photos that are not here are listed without their picture
	Chain   bench.Chain              // where the ledger ends
	Made    time.Time
	Program string // version of the program that makes it; "" unknown
	Note    *Note  // that seals what the sheet says; nil where none was made
}

// Options say how a sheet is laid out.
type Options struct {
	System quantity.System // the units shown; the JSON form has both
	Letter bool            // paper: Letter instead of A4
	Brief  bool            // the first page alone: what was found, what is open, who signed
	// Readings puts every step at the end, reading by reading and pass by pass.
	Readings bool
	Zone     *time.Location // the times that people read; nil is UTC. The JSON form has UTC
}

// Sheet is the build sheet. Numbers are in the base unit of their kind (mm, deg, N, g, cm³, N·m …); what people read is
// there in both systems of units.
type Sheet struct {
	Form     int      `json:"form"`
	Made     string   `json:"made"` // RFC 3339, UTC
	Bench    string   `json:"bench"`
	Job      string   `json:"job"`
	Engine   string   `json:"engine"`
	Program  string   `json:"program,omitempty"` // version
	Front    Front    `json:"front"`
	Plan     PlanID   `json:"plan"`
	Started  string   `json:"started"`
	Closed   bool     `json:"closed"`
	Caution  string   `json:"caution"`
	Cautions []string `json:"cautions"` // of the plan
	Open     []string `json:"open"`     // what is not settled
	Tally    Tally    `json:"tally"`
	Running  []Clock  `json:"running"` // times that were not over when the sheet was made
	Data     []Datum  `json:"engine_data"`
	Steps    []Step   `json:"steps"`
	Gauges   []Gauge  `json:"gauges"`
	// Overrides are what was set aside or changed for this build, each with its reason.
	Overrides []Override `json:"overrides"`
	Photos    []Photo    `json:"photos"`
	Ledger    Ledger     `json:"ledger"`
	Note      *Note      `json:"note,omitempty"`

	cylinders []string // of its plan, left first; nil where they are not known
	blocks    []string // what its guide blocks are called
}

// Front is what names the engine and the people, as far as the engine data have it; a blank is left to be written in.
type Front struct {
	Customer     string   `json:"customer,omitempty"`
	EngineNumber string   `json:"engine_number,omitempty"`
	FrameNumber  string   `json:"frame_number,omitempty"`
	Shop         string   `json:"shop,omitempty"`
	Builders     []string `json:"builders,omitempty"` // named in the engine data, else everyone who signed
	Finished     string   `json:"finished,omitempty"` // the last signature, RFC 3339, UTC
}

// Note is a signed statement of what the ledger contained. QR is the same text as a square code, row by row, true for a
// dark module; nil draws none.
type Note struct {
	Text string   `json:"text"`
	QR   [][]bool `json:"-"`
}

// PlanID says which plan, to the letter.
type PlanID struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Version int    `json:"version"`
	SHA256  string `json:"sha256"` // of its text
}

// Ledger is where the ledger ended when the sheet was made.
type Ledger struct {
	N    uint64 `json:"n"`
	Seal string `json:"seal"` // SHA-256, hex
}

// Datum is one piece of engine data as the build used it.
type Datum struct {
	Name       string        `json:"name"`
	Title      string        `json:"title"`
	Kind       quantity.Kind `json:"kind"`
	Shown      calc.Shown    `json:"shown"`
	Source     string        `json:"source"`
	Confirmed  string        `json:"confirmed,omitempty"` // who did, where it had to be
	Open       bool          `json:"open,omitempty"`      // had to be confirmed and was not
	Overridden bool          `json:"overridden,omitempty"`
}

// Step is one piece of work.
type Step struct {
	Number       int            `json:"number"`
	ID           string         `json:"id"`
	Title        string         `json:"title"`
	Do           string         `json:"do"`
	Phase        plan.Phase     `json:"phase"`
	Kind         plan.Kind      `json:"kind"`
	Progress     bench.Progress `json:"progress"`
	LeftOut      string         `json:"left_out,omitempty"` // why, where the build goes on without it
	Hold         bool           `json:"hold,omitempty"`
	Cautions     []string       `json:"cautions"`
	Notes        []string       `json:"notes,omitempty"`
	Method       string         `json:"method,omitempty"`
	MethodTitle  string         `json:"method_title,omitempty"`
	MethodSource string         `json:"method_source,omitempty"`
	Setup        *calc.Shown    `json:"setup,omitempty"`     // set-up repeatability, standard uncertainty
	SetupDof     float64        `json:"setup_dof,omitempty"` // of one that was found from the builder's own seatings; 0 where it is stated
	Limits       []Limit        `json:"limits,omitempty"`
	Verdict      calc.Verdict   `json:"verdict,omitempty"` // of the pass in force
	InForce      int            `json:"in_force,omitempty"`
	Passes       []Pass         `json:"passes,omitempty"`
	Runs         []Run          `json:"runs,omitempty"`   // of a step that reads nothing and computes from what others found
	Orders       []Adjustment   `json:"orders,omitempty"` // what those runs asked for
	Changes      []Change       `json:"changes,omitempty"`
	Confirmed    []Confirmation `json:"confirmations,omitempty"`
	Signed       *Mark          `json:"signed,omitempty"`
	Reopened     []Mark         `json:"reopened,omitempty"`
}

// Mark is who did something, when, and why.
type Mark struct {
	By     string `json:"by"`
	At     string `json:"at"`
	Reason string `json:"reason,omitempty"`
	Entry  uint64 `json:"entry"`
}

// Limit is what a figure is held against.
type Limit struct {
	Figure     string        `json:"figure"`
	Kind       quantity.Kind `json:"kind"`
	Lower      *float64      `json:"lower,omitempty"`
	Upper      *float64      `json:"upper,omitempty"`
	Shown      calc.Shown    `json:"shown"`
	Source     string        `json:"source"`
	Overridden bool          `json:"overridden,omitempty"`
}

// Pass is one set of readings with what came of it.
type Pass struct {
	Number      int              `json:"number"`
	Status      bench.PassStatus `json:"status"`
	Opened      Mark             `json:"opened"`
	Ended       *Mark            `json:"ended,omitempty"`
	Drift       *Drift           `json:"drift,omitempty"`
	Readings    []Reading        `json:"readings"`
	Runs        []Run            `json:"runs,omitempty"`
	Adjustments []Adjustment     `json:"adjustments,omitempty"`
}

// Drift is how far the datum had wandered when the pass was closed.
type Drift struct {
	By      calc.Shown `json:"by"`
	Allowed calc.Shown `json:"allowed"`
}

// Reading is one captured value.
type Reading struct {
	Entry     uint64        `json:"entry"`
	ID        string        `json:"id"`
	Point     string        `json:"point"`
	Title     string        `json:"title"`
	Seating   int           `json:"seating"`
	At        string        `json:"at"`
	By        string        `json:"by,omitempty"`
	Gauge     string        `json:"gauge"`
	Keyed     bool          `json:"keyed,omitempty"`
	Text      string        `json:"text,omitempty"` // as the gauge sent it
	Raw       string        `json:"raw"`
	Zero      string        `json:"zero,omitempty"` // id of the zero in force
	Kind      quantity.Kind `json:"kind"`
	Value     float64       `json:"value"`
	Shown     calc.Shown    `json:"shown"`
	Withdrawn bool          `json:"withdrawn,omitempty"`
}

// Run is one computation of a pass: the whole pass, or one point, cylinder or valve of it.
type Run struct {
	Key         string   `json:"key,omitempty"`
	Entry       uint64   `json:"entry"`
	Provisional bool     `json:"provisional,omitempty"`
	Version     int      `json:"method_version"`
	GaugeOnly   bool     `json:"gauge_only,omitempty"` // the verdict knows no set-up repeatability
	Refused     string   `json:"refused,omitempty"`
	Figures     []Figure `json:"figures"`
	Warnings    []string `json:"warnings,omitempty"`

	result  calc.Result // what a picture is drawn from
	request calc.Request
	called  string // the key as the plan calls its computation; "" as it stands
}

// Figure is one computed quantity.
type Figure struct {
	Name    string        `json:"name"`
	Title   string        `json:"title"`
	Kind    quantity.Kind `json:"kind"`
	Value   *float64      `json:"value,omitempty"`
	List    []float64     `json:"list,omitempty"`
	Grid    [][]float64   `json:"grid,omitempty"`
	Text    []string      `json:"text,omitempty"`
	U       float64       `json:"expanded_uncertainty,omitempty"`
	K       float64       `json:"coverage_factor,omitempty"`
	Shown   calc.Shown    `json:"shown"`
	ShownU  calc.Shown    `json:"shown_uncertainty"`
	Limit   *Limit        `json:"limit,omitempty"`
	Verdict calc.Verdict  `json:"verdict,omitempty"`
	Reason  string        `json:"reason,omitempty"`
	Large   bool          `json:"large,omitempty"` // one that the plan shows large
}

// Adjustment is what a pass asked to be moved, and what the next pass found of it. Amounts are signed as the method
// says; done = told − left. What is shown of done and left is in the direction that was told.
type Adjustment struct {
	Key       string        `json:"key,omitempty"`
	What      string        `json:"what"`
	Kind      quantity.Kind `json:"kind"`
	Told      float64       `json:"told"`
	Left      *float64      `json:"left,omitempty"` // what the next pass still asked for
	Done      *float64      `json:"done,omitempty"`
	Words     calc.Shown    `json:"words"`
	ShownLeft calc.Shown    `json:"shown_left"`
	ShownDone calc.Shown    `json:"shown_done"`
	NextPass  int           `json:"next_pass,omitempty"`
	Nothing   bool          `json:"nothing,omitempty"` // there was nothing to move
	// Answers is the verdict that the order belongs to. One beside "in" is kept here and printed nowhere.
	Answers calc.Verdict `json:"answers,omitempty"`
	called  string       // the key as the plan calls its computation; "" as it stands
}

// Change is a result that was computed again because something earlier changed.
type Change struct {
	Pass    int        `json:"pass"`
	Key     string     `json:"key,omitempty"`
	Entry   uint64     `json:"entry"`
	Because string     `json:"because"`
	Figure  string     `json:"figure,omitempty"`
	Was     calc.Shown `json:"was"`
	Now     calc.Shown `json:"now"`
	// WasVerdict and NowVerdict are the verdict before and after.
	WasVerdict calc.Verdict `json:"was_verdict,omitempty"`
	NowVerdict calc.Verdict `json:"now_verdict,omitempty"`
	called     string       // the key as the plan calls its computation; "" as it stands
}

// Confirmation is something confirmed with a key, or still to be confirmed.
type Confirmation struct {
	ID   string `json:"id"`
	Text string `json:"text"`
	By   *Mark  `json:"by,omitempty"`
}

// Gauge is an instrument that took a reading or a zero of this build.
type Gauge struct {
	Name        string     `json:"name"`
	Profile     string     `json:"profile"`
	Identity    string     `json:"identity,omitempty"`
	Role        string     `json:"role"`
	Readings    int        `json:"readings"`
	Resolution  calc.Shown `json:"resolution"`
	Calibration calc.Shown `json:"calibration"` // expanded uncertainty of the certificate
	K           float64    `json:"coverage_factor,omitempty"`
	Check       *Check     `json:"last_check,omitempty"`
}

// Check is a gauge's last check against standards.
type Check struct {
	Study bool       `json:"study,omitempty"`
	Error calc.Shown `json:"error"`
	U     calc.Shown `json:"standard_uncertainty"`
	Due   string     `json:"due,omitempty"`
	Over  bool       `json:"overdue,omitempty"` // when the sheet was made
}

// Override is one thing changed or passed over, with its reason.
type Override struct {
	What  string     `json:"what"`
	Name  string     `json:"name"`
	Step  string     `json:"step,omitempty"`
	Shown calc.Shown `json:"shown"`
	Mark
}

// Tally is what is or was in the engine for a time, and what was left loose.
type Tally struct {
	Items   []Item  `json:"items"`
	Loose   []Loose `json:"loose"`
	Dropped string  `json:"dropped,omitempty"` // fell and was not found
}

// Item is a temporary thing in the engine.
type Item struct {
	Name  string `json:"name"`
	Count int    `json:"count"`
	Step  string `json:"step"`
	In    Mark   `json:"in"`
	Out   *Mark  `json:"out,omitempty"`
}

// Clock is a time that runs: compound cures, an engine cools, a tin is open.
type Clock struct {
	Name  string   `json:"name"`
	Step  string   `json:"step"`            // that began it
	Until string   `json:"until"`           // RFC 3339, UTC
	Holds []string `json:"holds,omitempty"` // the titles of the steps that wait for it
}

// Loose is a fastener not made fast.
type Loose struct {
	Name  string `json:"name"`
	Step  string `json:"step"`
	Ends  string `json:"ends"`
	Since Mark   `json:"since"`
}

// Photo is a picture pinned to a step.
type Photo struct {
	ID    string `json:"id"`
	Step  string `json:"step"`
	Note  string `json:"note"`
	Entry uint64 `json:"entry"`
	Type  string `json:"type,omitempty"`
	Bytes []byte `json:"-"`
}
