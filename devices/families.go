package devices

import "strings"

// The wire families.
const (
	FamilyText   = "text"
	FamilyBits   = "bits"
	FamilyModbus = "modbus"
	FamilyBench  = "bench"
)

// family is one wire family. All that differs between families stands in its row or behind it: nothing else in this
// package asks which family a profile is of. A new family is a row here, a table in Profile and in file, and the files
// that the row names.
type family struct {
	name    string
	source  string                       // the file that begins with its protocol
	has     func(Profile) bool           // whether the profile has the family's table
	compile func(Profile) (codec, error) // checks the table; fails with a *FieldError
	read    func(file, *Profile) error   // takes its table from a profile's file, nothing where there is none
	write   func(*tomlWriter, Profile)   // the inverse of read
	// channels are the channels that the profile names; ordered says that they come in this order.
	channels func(Profile) (names []string, ordered bool)
	unnamed  func(p Profile, channel string) string // what Profile.UnnamedUnit does
	together func(Profile) bool                     // one frame brings the readings of several channels
	checked  func(Profile) bool                     // every good frame carries a check sum
	// weigh says what speaks for a guess, and against it; values says that values were read.
	weigh    func(p Profile, values bool, say func(float64, string, ...any))
	teach    func(base Profile, presses []Press, streams bool) ([]candidate, string) // layouts that explain the presses; nil where untaught says why
	keys     bool                                                                    // it may send keys and pedals
	untaught string                                                                  // why it is not learnt from presses
}

// families are tried by teach in this order: what shows most about itself first.
func families() []family {
	never := func(Profile) bool { return false }
	return []family{
		{
			name: FamilyBench, source: "bench.go", compile: Profile.compileBench, read: readBench, write: writeBench, channels: benchChannels, unnamed: benchUnnamed,
			has: func(p Profile) bool { return p.Bench != nil }, together: never, checked: func(p Profile) bool { return p.Bench.Checked },
			weigh: weighBench, keys: true, teach: teachBench,
		},
		{
			name: FamilyText, source: "text.go", compile: Profile.compileText, read: readText, write: writeText, channels: textChannels, unnamed: textUnnamed, teach: teachText,
			has: func(p Profile) bool { return p.Text != nil }, together: func(p Profile) bool { return p.Text.Separator != "" }, checked: never,
			weigh: weighText,
		},
		{
			name: FamilyBits, source: "bits.go", compile: Profile.compileBits, read: readBits, write: writeBits, channels: bitsChannels, unnamed: bitsUnnamed, teach: teachBits,
			has: func(p Profile) bool { return p.Bits != nil }, together: never, checked: func(p Profile) bool { return p.Bits.Check != nil },
			weigh: weighBits,
		},
		{
			name: FamilyModbus, source: "modbus.go", compile: Profile.compileModbus, read: readModbus, write: writeModbus, channels: modbusChannels, unnamed: modbusUnnamed,
			has: func(p Profile) bool { return p.Modbus != nil }, together: func(p Profile) bool { return len(p.Modbus.Values) > 1 },
			checked:  func(Profile) bool { return true },
			weigh:    func(Profile, bool, func(float64, string, ...any)) {},
			untaught: "it has no data key: its registers stand in the device's manual",
		},
	}
}

// Families lists the names of the wire families.
func Families() []string {
	var names []string
	for _, f := range families() {
		names = append(names, f.name)
	}
	return names
}

// family gives the profile's row; false for a name that is no family, or where the profile lacks the family's table.
func (p Profile) family() (family, bool) {
	for _, f := range families() {
		if f.name == p.Family {
			return f, f.has(p)
		}
	}
	return family{}, false
}

func (p Profile) compile() (codec, error) {
	for _, f := range families() {
		if f.name == p.Family {
			return f.compile(p)
		}
	}
	return nil, fieldError("family", "%q is not a wire family: want one of %s", p.Family, strings.Join(Families(), ", "))
}

// tables counts the family tables that a profile has.
func (p Profile) tables() int {
	n := 0
	for _, f := range families() {
		if f.has(p) {
			n++
		}
	}
	return n
}

// Together reports whether one frame brings the readings of several channels.
func (p Profile) Together() bool {
	f, ok := p.family()
	return ok && f.together(p)
}

// Checked reports whether every good frame of the profile carries a check sum.
func (p Profile) Checked() bool {
	f, ok := p.family()
	return ok && f.checked(p)
}

// SendsKeys reports whether a line of this kind may bring keys and pedals.
func (p Profile) SendsKeys() bool {
	f, ok := p.family()
	return ok && f.keys
}

// missingTable is the fault of a profile without the table of its family.
func missingTable(name string) error {
	return fieldError(name, "missing: a profile of the family %s needs the table [%s]", name, name)
}
