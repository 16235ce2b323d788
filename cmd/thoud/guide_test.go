package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/guide"
	"thoud/cmd/thoud/service"
	"thoud/devices"
	"thoud/devices/simulate"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
)

// guideLists are the lists of the guide, made from the program's own tables.
func guideLists(t *testing.T) map[string]string {
	t.Helper()
	rows := func(head string, each func(row func(cells ...string))) string {
		var b strings.Builder
		n := strings.Count(head, "|") - 1
		b.WriteString(head + "\n|" + strings.Repeat(" --- |", n) + "\n")
		each(func(cells ...string) { b.WriteString("| " + strings.Join(cells, " | ") + " |\n") })
		return b.String()
	}
	code := func(s string) string { return "`" + s + "`" }
	return map[string]string{
		"roles": rows("| role | what it is |", func(row func(...string)) {
			for _, r := range plan.Roles {
				row(code(r.Name), r.Words)
			}
		}),
		"modes": rows("| mode | how the reading is taken |", func(row func(...string)) {
			for _, m := range plan.Modes {
				row(code(string(m.Name)), m.Words)
			}
		}),
		"profiles": rows("| profile | what sends so |", func(row func(...string)) {
			list, err := devices.Profiles(nil)
			if err != nil {
				t.Fatal(err)
			}
			sortByName(list)
			for _, p := range list {
				row(code(p.Name), p.Title)
			}
		}),
		"settings":    rows("| key | default | what it is |", settingRows(service.SettingsTable())),
		"hubsettings": rows("| key | default | what it is |", settingRows(service.HubSettingsTable())),
		"pages": rows("| page | address |", func(row func(...string)) {
			for _, p := range monitor.Menu() {
				row(p.Title, code(p.Path))
			}
		}),
		"commands": rows("| command | what it does |", func(row func(...string)) {
			eachCommand(newRootCommand(), func(cmd *cobra.Command) {
				_, path, _ := strings.Cut(cmd.CommandPath(), " ")
				if path != "" {
					row(code(path), cmd.Short)
				}
			})
		}),
		"exits": rows("| status | what it means |", func(row func(...string)) {
			for _, e := range exitTable() {
				row(fmt.Sprint(e.Code), e.Words)
			}
		}),
		"kinds": rows("| kind | what happened |", func(row func(...string)) {
			for _, k := range bench.KindTable() {
				row(code(string(k.Kind)), k.Words)
			}
		}),
		"subjects": rows("| subject | what it carries |", func(row func(...string)) {
			for _, m := range bus.Messages() {
				row(code(m.Subject), m.Words)
			}
		}),
		"schemas": rows("| schema | of |", func(row func(...string)) {
			for _, m := range bus.Messages() {
				row(code(m.Name), m.Words)
			}
		}),
		"verbs": rows("| verb | command | given with it |", func(row func(...string)) {
			for _, v := range bench.VerbTable() {
				var gives []string
				for _, g := range v.Gives {
					gives = append(gives, string(g))
				}
				row(code(v.Name), code(v.Command), strings.Join(gives, ", "))
			}
		}),
		"plankeys": planKeys(rows, code),
		"methods": rows("| method | what it computes | source |", func(row func(...string)) {
			for _, m := range calc.Methods() {
				row(code(m.Name), m.Title, strings.ReplaceAll(m.Source, "|", "/"))
			}
		}),
	}
}

// planKeys are the tables of the plan language, one after the other.
func planKeys(rows func(string, func(func(...string))) string, code func(string) string) string {
	var out strings.Builder
	for _, t := range plan.KeyTables() {
		out.WriteString("\n## " + code(t.As) + ": " + t.Words + "\n\n")
		out.WriteString(rows("| key | what stands there | what it says |", func(row func(...string)) {
			for _, k := range t.Keys {
				if t.Name == "change" && k.Name != "step" && k.Name != "why" && k.Name != "leave_out" {
					continue // those of a step, listed there
				}
				form := string(k.Form)
				switch {
				case k.Form == plan.FormWord:
					form = "one of " + strings.Join(k.Enum, ", ")
				case k.Form == plan.FormFlag:
					form = "true or false"
				case k.Form == plan.FormEach:
					form = "tables by name"
				case k.Form == plan.FormFree:
					form = "a table of names"
				}
				if k.Need {
					form += "; must be there"
				}
				row(code(k.Name), form, k.Words)
			}
		}))
	}
	out.WriteString("\n")
	return out.String()
}

// settingRows are the keys of a file of settings as rows of a list.
func settingRows(table []service.SettingRow) func(func(...string)) {
	return func(row func(...string)) {
		for _, s := range table {
			def := ""
			if s.Default != "" {
				def = "`" + s.Default + "`"
			}
			row("`"+s.Key+"`", def, s.Words)
		}
	}
}

var guideList = regexp.MustCompile(`(?s)<!-- list: ([a-z]+) -->\n(.*?)<!-- end list -->\n`)

// The lists in the guide are those of the program. With THOUD_UPDATE set they are written.
func TestListsOfTheGuideAreTheProgramsOwn(t *testing.T) {
	lists := guideLists(t)
	used := map[string]bool{}
	for _, topic := range guide.Topics() {
		path := filepath.Join("guide", topic.Name+".md")
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		text := string(b)
		want := guideList.ReplaceAllStringFunc(text, func(block string) string {
			m := guideList.FindStringSubmatch(block)
			list, ok := lists[m[1]]
			if !ok {
				t.Errorf("%s: no list %q", path, m[1])
			}
			used[m[1]] = true
			return "<!-- list: " + m[1] + " -->\n" + list + "<!-- end list -->\n"
		})
		if want == text {
			continue
		}
		if os.Getenv("THOUD_UPDATE") != "" {
			if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		t.Errorf("%s: its lists are not the program's: run this test with THOUD_UPDATE=1", path)
	}
	for name := range lists {
		if !used[name] {
			t.Errorf("the list %q is in no topic", name)
		}
	}
	for _, s := range append(service.SettingsTable(), service.HubSettingsTable()...) {
		if s.Words == "" {
			t.Errorf("the setting %s is not explained: settings_table.go", s.Key)
		}
	}
	md, err := filepath.Glob("guide/*.md")
	if err != nil || len(md) != len(guide.Topics()) {
		t.Errorf("%d texts, %d topics (%v)", len(md), len(guide.Topics()), err)
	}
}

// notRun are how the command lines of the guide begin that end only when they are told to, or ask a person; each is tried
// elsewhere.
func notRun(line string) bool {
	return slices.ContainsFunc([]string{
		"thoud try", "thoud run", // TestTryMovesGauges, TestScripts
		"thoud identify ", "thoud teach ", // the tests of capture/line, TestTeach
		"thoud status --state ", // needs that bench
	}, func(begin string) bool { return strings.HasPrefix(line, begin) })
}

// Every command line of the guide is run, topic by topic, against a real service with a simulated gauge, and succeeds.
func TestCommandLinesOfTheGuide(t *testing.T) {
	lines := 0
	for _, topic := range guide.Topics() {
		text, err := guide.Text(topic.Name)
		if err != nil {
			t.Fatal(err)
		}
		if topic.Name == "benches" {
			continue // TestSeveralBenchesStepByStep
		}
		bench := newGuideBench(t)
		for line := range strings.Lines(text) {
			line = strings.TrimSpace(strings.TrimSuffix(line, "\n"))
			stdin := ""
			if said, after, ok := strings.Cut(line, "' | "); ok && strings.HasPrefix(said, "echo '") {
				stdin, line = strings.TrimPrefix(said, "echo '")+"\n", after
			}
			if !strings.HasPrefix(line, "thoud ") || notRun(line) {
				continue
			}
			lines++
			bench.run(line, stdin)
		}
		bench.stop()
	}
	if lines < 40 {
		t.Errorf("only %d command lines were run", lines)
	}
}

// guideBench is a service with a gauge that stands still, a build that is under way, and a folder of files the guide names.
type guideBench struct {
	t     *testing.T
	state string
	work  string
	port  string
	gauge *simulate.Gauge
	stop  func()
	live  bool
	done  map[string]bool
}

func newGuideBench(t *testing.T) *guideBench {
	t.Helper()
	b := &guideBench{t: t, state: t.TempDir(), work: t.TempDir(), done: map[string]bool{}}
	profiles, err := service.LoadProfiles("")
	if err != nil {
		t.Fatal(err)
	}
	if b.gauge, err = simulate.Open(simulate.Options{Profile: profiles["text-signed-decimal-unit-crlf"], Dir: b.work, Name: "ttyUSB0"}); err != nil {
		t.Fatal(err)
	}
	b.port = b.gauge.Path()
	v, err := quantity.Parse("0.1250 in")
	if err != nil {
		t.Fatal(err)
	}
	b.gauge.Set(v)
	b.gauge.Stream(20 * time.Millisecond)
	own, err := os.ReadFile("../../devices/profiles/text-weight-lf.toml")
	if err != nil {
		t.Fatal(err)
	}
	own = []byte(strings.Replace(string(own), "text-weight-lf", "my-gauge", 1))
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	two, err := os.ReadFile("../../devices/profiles/text-two-channels-crlf.toml")
	if err != nil {
		t.Fatal(err)
	}
	// What teaching leaves behind: a profile of two channels.
	taught := strings.NewReplacer("text-two-channels-crlf", "my-both", `unit = "in"`, `unit = "mm"`, `resolution = "0.0001 in"`, `resolution = "0.001 mm"`, `"a"`, `"left"`, `"b"`, `"right"`).Replace(string(two))
	profilesDir := filepath.Join(b.state, service.ProfilesFolder)
	if err := errors.Join(os.Mkdir(profilesDir, 0o750), os.WriteFile(filepath.Join(profilesDir, "my-both.toml"), []byte(taught), 0o600)); err != nil {
		t.Fatal(err)
	}
	for name, body := range map[string][]byte{"my-gauge.toml": own, "my-plan.toml": text} {
		if err := os.WriteFile(filepath.Join(b.work, name), body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	b.start()
	return b
}

// start runs the service.
func (b *guideBench) start() {
	b.t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: b.state, Settings: service.DefaultSettings(), Log: zerolog.Nop(), Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	select {
	case <-ready:
	case err := <-ended:
		cancel()
		b.t.Fatal(err)
	}
	b.live = true
	b.stop = func() {
		if b.live {
			b.live = false
			cancel()
			if err := <-ended; err != nil {
				b.t.Error(err)
			}
		}
	}
}

// run runs one command line. What the guide takes for granted in that place is done before.
func (b *guideBench) run(line, stdin string) {
	b.t.Helper()
	args, err := splitLine(line)
	if err != nil {
		b.t.Errorf("%s: %v", line, err)
		return
	}
	for i, a := range args {
		switch {
		case a == "/dev/ttyUSB0":
			args[i] = b.port
		case strings.HasSuffix(a, ".toml"), strings.HasSuffix(a, ".tar.gz"), strings.HasSuffix(a, ".html"), strings.HasSuffix(a, ".jsonl"):
			args[i] = filepath.Join(b.work, a)
		}
	}
	b.prepare(args[1:])
	b.done[strings.Join(args[1:], " ")] = true
	out, errs, code := thoudIn(b.t, stdin, append([]string{"--state", b.state}, args[1:]...)...)
	if code != exitDone && args[1] != "checkup" { // checkup finds what this machine lacks
		b.t.Errorf("%s: status %d\n%s%s", line, code, out, errs)
	}
}

// prepare brings the bench to where a command of the guide makes sense.
func (b *guideBench) prepare(args []string) {
	must := func(args ...string) {
		b.t.Helper()
		key := strings.Join(args, " ")
		if b.done[key] {
			return
		}
		b.done[key] = true
		if out, errs, code := thoudIn(b.t, "", append([]string{"--state", b.state}, args...)...); code != 0 {
			b.t.Errorf("to prepare: %v: %s%s", args, out, errs)
		}
	}
	is := func(words ...string) bool { return len(args) >= len(words) && slices.Equal(args[:len(words)], words) }
	gauge := []string{"gauge", "add", "dial-1", "--port", b.port, "--profile", "text-signed-decimal-unit-crlf", "--role", "indicator"}
	switch {
	case is("gauge", "add", "dial-1"):
		b.done[strings.Join(gauge, " ")] = true
	case is("engine"), is("whatif"):
		must("build", "start", "17", "first-fit", "--engine", "twin 4")
		must("confirm", "all")
		b.done["build start 17 first-fit"] = true
	case is("build", "start", "17"):
		b.done["build start 17 first-fit"] = true
	case is("gauge", "check"), is("gauge", "study"), is("gauge", "use"):
		must(gauge...)
	case is("zero"), is("take"), is("override"), is("retake"):
		must(gauge...)
		must("build", "start", "17", "first-fit")
		if args[0] == "zero" || args[0] == "take" {
			must("acknowledge")
			must("confirm", "all")
		}
		if !is("override") {
			b.seen()
		}
	case is("verify"), is("backup"), is("export"), is("readings"), is("build", "list"), is("build", "show"), is("sheet"), is("status"), is("bench"), is("plan", "edit"), is("plan", "adopt"):
		must("build", "start", "17", "first-fit")
	case is("due"), is("hours"), is("regular"), is("part"), is("hands"):
		must("build", "start", "4", "first-fit", "--engine", "shop twin no. 4")
	case is("restore"):
		b.stop()
	}
}

// seen waits until the service shows the gauge.
func (b *guideBench) seen() {
	b.t.Helper()
	v, err := quantity.Parse("0.1250 in")
	if err != nil {
		b.t.Fatal(err)
	}
	if err := seenAt(b.state, "dial-1", v); err != nil {
		b.t.Fatal(err)
	}
}

// splitLine splits a command line as a shell would: quotes hold words together.
func splitLine(line string) ([]string, error) {
	var out []string
	var word strings.Builder
	quote, open := rune(0), false
	for _, r := range line {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			word.WriteRune(r)
		case r == '"' || r == '\'':
			quote, open = r, true
		case r == ' ':
			if word.Len() > 0 || open {
				out = append(out, word.String())
			}
			word.Reset()
			open = false
		default:
			word.WriteRune(r)
		}
	}
	if quote != 0 {
		return nil, fmt.Errorf("a quote is not closed")
	}
	if word.Len() > 0 || open {
		out = append(out, word.String())
	}
	return out, nil
}
