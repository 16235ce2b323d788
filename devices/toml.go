package devices

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"thoud/calc/quantity"
)

// file is the form of a profile on disk.
type file struct {
	Name       string      `toml:"name"`
	Title      string      `toml:"title"`
	Family     string      `toml:"family"`
	Role       string      `toml:"role"`
	Resolution string      `toml:"resolution"`
	Line       *lineFile   `toml:"line"`
	Poll       *pollFile   `toml:"poll"`
	Text       *textFile   `toml:"text"`
	Bits       *bitsFile   `toml:"bits"`
	Modbus     *modbusFile `toml:"modbus"`
	Bench      *benchFile  `toml:"bench"`
}

type lineFile struct {
	Baud     int    `toml:"baud"`
	DataBits int    `toml:"data_bits"`
	Parity   string `toml:"parity"`
	StopBits int    `toml:"stop_bits"`
	DTR      *bool  `toml:"dtr"`
	RTS      *bool  `toml:"rts"`
}

type pollFile struct {
	Request  string  `toml:"request"`
	Bytes    []uint8 `toml:"request_bytes"` // in place of request, for bytes that are no text
	Interval string  `toml:"interval"`
}

type textFile struct {
	Pattern   any               `toml:"pattern"` // one pattern or a list
	End       string            `toml:"end"`
	Length    int               `toml:"length"`
	Gap       bool              `toml:"gap"`
	Separator string            `toml:"separator"`
	Channels  []string          `toml:"channels"`
	Mark      *string           `toml:"mark"`
	Places    *int              `toml:"places"`
	Scale     *string           `toml:"scale"`
	Unit      string            `toml:"unit"`
	Units     map[string]string `toml:"units"`
	Status    map[string]string `toml:"status"`
	Channel   map[string]string `toml:"channel"`
	Ignore    []string          `toml:"ignore"`
}

// ParseProfile reads one profile from strict TOML: a key that is not known is an error, and so is every fault that
// Validate names, each as "name:line:column: what". name is the file's name, for the errors.
func ParseProfile(name string, data []byte) (Profile, error) {
	var f file
	dec := toml.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return Profile{}, tomlError(name, err)
	}
	p, err := f.profile()
	if err == nil {
		err = p.Validate()
	}
	if err != nil {
		return Profile{}, place(name, data, err)
	}
	return p, nil
}

func tomlError(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var errs []error
		for _, e := range strict.Errors {
			line, col := e.Position()
			errs = append(errs, fmt.Errorf("%s:%d:%d: %q is not a key of a profile", name, line, col, strings.Join(e.Key(), ".")))
		}
		return errors.Join(errs...)
	}
	var dec *toml.DecodeError
	if errors.As(err, &dec) {
		line, col := dec.Position()
		return fmt.Errorf("%s:%d:%d: %w", name, line, col, err)
	}
	return fmt.Errorf("%s: %w", name, err)
}

func (f file) profile() (Profile, error) {
	p := Profile{Name: f.Name, Title: f.Title, Family: f.Family, Role: f.Role, Line: DefaultLine()}
	if f.Resolution != "" {
		v, err := quantity.Parse(f.Resolution)
		if err != nil {
			return p, fieldError("resolution", "%v", err)
		}
		p.Resolution = v
	}
	if l := f.Line; l != nil {
		set(&p.Line.Baud, l.Baud)
		set(&p.Line.DataBits, l.DataBits)
		set(&p.Line.Parity, l.Parity)
		set(&p.Line.StopBits, l.StopBits)
		p.Line.DTR, p.Line.RTS = l.DTR, l.RTS
	}
	if f.Poll != nil {
		p.Poll.Request = []byte(f.Poll.Request)
		if len(f.Poll.Bytes) > 0 {
			if f.Poll.Request != "" {
				return p, fieldError("poll.request_bytes", "there is a request already")
			}
			p.Poll.Request = f.Poll.Bytes
		}
		d, err := time.ParseDuration(f.Poll.Interval)
		if err != nil {
			return p, fieldError("poll.interval", "%q is not a time: want as \"200ms\" or \"1s\"", f.Poll.Interval)
		}
		p.Poll.Interval = d
	}
	return p, f.families(&p)
}

func (f textFile) text() (*Text, error) {
	t := &Text{End: f.End, Length: f.Length, Gap: f.Gap, Separator: f.Separator, Channels: f.Channels, Mark: ".", Places: -1, Scale: "1",
		Unit: f.Unit, Units: f.Units, Status: f.Status, Channel: f.Channel, Ignore: f.Ignore}
	switch v := f.Pattern.(type) {
	case nil:
	case string:
		t.Pattern = []string{v}
	case []any:
		for _, e := range v {
			s, ok := e.(string)
			if !ok {
				return nil, fieldError("text.pattern", "%v is no text", e)
			}
			t.Pattern = append(t.Pattern, s)
		}
	default:
		return nil, fieldError("text.pattern", "%v: want a text or a list of texts", v)
	}
	if f.Mark != nil {
		t.Mark = *f.Mark
	}
	if f.Places != nil {
		t.Places = *f.Places
	}
	if f.Scale != nil {
		t.Scale = *f.Scale
	}
	return t, nil
}

func set[T comparable](to *T, v T) {
	var none T
	if v != none {
		*to = v
	}
}

// DefaultLine is 9600 8N1.
func DefaultLine() Line { return Line{Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1} }

// place puts file, line and column before every FieldError of err.
func place(name string, data []byte, err error) error {
	var list []error
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		list = j.Unwrap()
	} else {
		list = []error{err}
	}
	where := positions(data)
	for i, e := range list {
		var f *FieldError
		if !errors.As(e, &f) {
			list[i] = fmt.Errorf("%s: %w", name, e)
			continue
		}
		at := unstable.Position{Line: 1, Column: 1}
		for path := f.Path; ; {
			if p, ok := where[path]; ok {
				at = p
				break
			}
			dot := strings.LastIndexByte(path, '.')
			if dot < 0 {
				break
			}
			path = path[:dot]
		}
		list[i] = fmt.Errorf("%s:%d:%d: %w", name, at.Line, at.Column, e)
	}
	return errors.Join(list...)
}

// positions maps each key's path to where it stands, as the decoder keeps no positions.
func positions(data []byte) map[string]unstable.Position {
	where := map[string]unstable.Position{}
	var p unstable.Parser
	p.Reset(data)
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		base := table
		if e.Kind == unstable.Table || e.Kind == unstable.ArrayTable {
			base = ""
		}
		path := mark(&p, where, base, e)
		if e.Kind == unstable.Table || e.Kind == unstable.ArrayTable {
			table = path
		}
	}
	return where
}

func mark(p *unstable.Parser, where map[string]unstable.Position, base string, e *unstable.Node) string {
	path := base
	for it := e.Key(); it.Next(); {
		k := it.Node()
		path = strings.TrimPrefix(path+"."+string(k.Data), ".")
		if _, ok := where[path]; !ok {
			where[path] = p.Shape(k.Raw).Start
		}
	}
	if e.Kind == unstable.KeyValue {
		if v := e.Value(); v.Kind == unstable.InlineTable {
			for it := v.Children(); it.Next(); {
				mark(p, where, path, it.Node())
			}
		}
	}
	return path
}
