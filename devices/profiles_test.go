package devices_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"thoud/devices"
)

// mustProfiles gives the shipped profiles by name.
func mustProfiles(tb testing.TB) map[string]devices.Profile {
	tb.Helper()
	all, err := devices.Profiles(nil)
	if err != nil {
		tb.Fatal(err)
	}
	byName := map[string]devices.Profile{}
	for _, p := range all {
		byName[p.Name] = p
	}
	return byName
}

func mustDecoder(tb testing.TB, p devices.Profile) devices.Decoder {
	tb.Helper()
	d, err := p.NewDecoder()
	if err != nil {
		tb.Fatal(err)
	}
	return d
}

func TestShippedProfiles(t *testing.T) {
	all := mustProfiles(t)
	if len(all) < 8 {
		t.Errorf("%d profiles ship", len(all))
	}
	families := map[string]int{}
	for name, p := range all {
		families[p.Family]++
		if err := p.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.HasPrefix(name, p.Family+"-") {
			t.Errorf("%s: the name does not begin with the family %s", name, p.Family)
		}
	}
	for _, f := range []string{"text", "bits", "modbus", "bench"} {
		if families[f] < 2 {
			t.Errorf("family %s: %d profiles", f, families[f])
		}
	}
}

const good = `name = "mine"
title = "Mine"
family = "text"
[text]
pattern = "{sign}{number}"
end = "\r"
unit = "mm"
`

func TestUserProfileTakesThePlaceOfAShippedOne(t *testing.T) {
	user := fstest.MapFS{
		"a.toml":    {Data: []byte(strings.Replace(good, "mine", "bench-line", 1))},
		"b.toml":    {Data: []byte(good)},
		"c.toml":    {Data: []byte(strings.Replace(good, "number", "figure", 1))},
		"notes.txt": {Data: []byte("not a profile")},
	}
	all, err := devices.Profiles(user)
	if err == nil || !strings.Contains(err.Error(), "c.toml:5:1") {
		t.Errorf("the fault in c.toml: %v", err)
	}
	found := 0
	for _, p := range all {
		if p.Name == "mine" || p.Name == "bench-line" && p.Family == "text" {
			found++
		}
	}
	if found != 2 {
		t.Errorf("found %d of the user's two good profiles", found)
	}
}

func TestFaultsOfAProfileNameLineAndColumn(t *testing.T) {
	for _, c := range []struct{ name, data, want string }{
		{"unknown key", good + "colour = 3\n", `x.toml:8:1: "text.colour" is not a key`},
		{"not TOML", "name = \n", "x.toml:1:"},
		{"wrong type", "name = 3\n", "x.toml:1:"},
		{"bad name", strings.Replace(good, `"mine"`, `"My Gauge"`, 1), `x.toml:1:1: name: "My Gauge"`},
		{"bad family", strings.Replace(good, `"text"`, `"telex"`, 1), `x.toml:3:1: family: "telex"`},
		{"bad part", strings.Replace(good, "{number}", "{figure}", 1), `x.toml:5:1: text.pattern: "{sign}{figure}": "figure" is no part`},
		{"no unit", strings.Replace(good, "unit = \"mm\"\n", "", 1), "x.toml:4:2: text.unit: missing"},
		{"bad unit", strings.Replace(good, `"mm"`, `"furlong"`, 1), `x.toml:7:1: text.unit: "furlong"`},
		{"bad resolution", "resolution = \"small\"\n" + good, `x.toml:1:1: resolution: "small"`},
		{"inline table", good + "units = { mm = \"mm\", xx = \"furlong\" }\n", `x.toml:8:22: text.units.xx: "furlong"`},
		{"two ends", good + "length = 7\n", "x.toml:6:1: text.end"},
		{"no end", strings.Replace(good, "end = \"\\r\"\n", "", 1), "x.toml:4:2: text.end"},
		{"unmarked length", strings.NewReplacer(`end = "\r"`, "length = 7", "{sign}{number}", "{number:7}").Replace(good), "x.toml:6:1: text.length: lines without a terminator"},
		{"baud", good + "[line]\nbaud = 3\n", "x.toml:9:1: line.baud: 3"},
		{"parity", good + "[line]\nparity = \"odd-ish\"\n", "x.toml:9:1: line.parity"},
		{"interval", good + "[poll]\nrequest = \"?\"\ninterval = \"fast\"\n", "x.toml:10:1: poll.interval"},
		{"scale of nothing", good + "scale = \"0\"\n", "x.toml:8:1: text.scale"},
		{"modbus device", "name=\"m\"\ntitle=\"m\"\nfamily=\"modbus\"\n[modbus]\ndevice = 300\n", "x.toml:5:1: modbus.device: 300"},
		{"bits overlap", "name=\"b\"\ntitle=\"b\"\nfamily=\"bits\"\n[bits]\nlength=2\norder=\"high\"\ngap=true\nunit=\"mm\"\nnumber={at=0,count=3,coding=\"bcd\",first=\"high\"}\nsign={at=11,bits=1,values={0=\"+\",1=\"-\"}}\n", "x.toml:10:1: bits.sign: bit 11 belongs to number"},
		{"bits without a beginning", "name=\"b\"\ntitle=\"b\"\nfamily=\"bits\"\n[bits]\nlength=2\norder=\"high\"\nunit=\"mm\"\nnumber={at=0,count=3,coding=\"bcd\",first=\"high\"}\n", "bits.fixed: a frame read from its middle"},
		{"bench channel", "name=\"b\"\ntitle=\"b\"\nfamily=\"bench\"\n[bench]\nchannels=[\"key\"]\n", "x.toml:5:1: bench.channels"},
	} {
		_, err := devices.ParseProfile("x.toml", []byte(c.data))
		if err == nil {
			t.Errorf("%s: taken", c.name)
		} else if !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got\n%v\nwant it to contain %s", c.name, err, c.want)
		}
	}
	if _, err := devices.ParseProfile("x.toml", []byte(good)); err != nil {
		t.Errorf("the good one: %v", err)
	}
}
