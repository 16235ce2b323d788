package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// examples are command lines to begin from, by command. They are shown in the help, in the man pages and in the guide; a
// test asks for one a command and another runs the command lines of the guide.
func examples() map[string]string {
	return map[string]string{
		"acknowledge":   "thoud acknowledge",
		"again":         "thoud again --reason \"clamp was loose\"",
		"answer":        "thoud answer \"take it so\"",
		"backup":        "thoud backup /media/stick/thoud-2027-03-01.tar.gz",
		"bench":         "thoud bench\nthoud bench 17",
		"bracket":       "thoud bracket 0.008in 0.009in",
		"build close":   "thoud build close 17",
		"build compare": "thoud build compare 17 23",
		"build list":    "thoud build list --json",
		"build show":    "thoud build show 17",
		"calc":          "thoud calc\nthoud calc deck-height --help\nthoud calc shim-stack shims.json --units inch",
		"checkup":       "thoud checkup",
		"code":          "echo 'three old spanners' | thoud code",
		"confirm":       "thoud confirm all\nthoud confirm engine.rod_length",
		"demo":          "thoud demo --fast --exit",
		"dropped":       "thoud dropped \"a circlip, left side\"",
		"engine copy":   "thoud engine copy \"shop twin no. 4\" \"shop twin no. 5\"\nthoud engine copy --job 17",
		"engine list":   "thoud engine list",
		"engine set":    "thoud engine set \"shop twin no. 4\" \"bore=73.4 mm\" engine_number=T-207 --source \"maker's data\"",
		"engine show":   "thoud engine show \"shop twin no. 4\"",
		"export":        "thoud export --format csv -o readings.csv",
		"found":         "thoud found",
		"gauge check":   "thoud gauge check dial-1 \"0.1000 in=0.1001 in\" \"0.2000 in=0.2001 in\"",
		"gauge list":    "thoud gauge list",
		"gauge remove":  "thoud gauge remove dial-1 --reason \"sent for repair\"",
		"gauge study":   "thoud gauge study dial-1 \"0.1000 in\" \"0.1001 in\" \"0.1000 in\" \"0.1002 in\"",
		"gauge use":     "thoud gauge use dial-2",
		"goto":          "thoud goto deck left.front",
		"due":           "thoud due",
		"hands":         "thoud hands\nthoud hands --take deck-final",
		"hours":         "thoud hours \"shop twin no. 4\" 12.5\nthoud hours \"shop twin no. 4\" +2",
		"part fit":      "thoud part fit P14 --what \"left piston\" --engine \"shop twin no. 4\" --life 20",
		"part list":     "thoud part list",
		"part out":      "thoud part out P14 --reason \"for the other engine\"",
		"regular":       "thoud regular \"shop twin no. 4\" \"valve lash\" --every 10\nthoud regular \"shop twin no. 4\" \"valve lash\"",
		"identify":      "thoud identify /dev/ttyUSB0",
		"guide":         "thoud guide\nthoud guide first-day",
		"key":           "thoud key \"0.0215 in\"\nthoud key -0.001 in",
		"next":          "thoud next",
		"override":      "thoud override needs deck --reason \"measured last week on the other bench\"",
		"photo":         "thoud photo crankcase.jpg --note \"timing side\"",
		"plan":          "thoud plan list",
		"plan new":      "thoud plan new my-single --from single-trial --title \"My trials single\"",
		"plan adopt":    "thoud plan adopt 17 my-plan.toml --reason \"the maker's new limits\"",
		"plan edit":     "thoud plan edit 17 --leave-out crank-runout --reason \"the crank is new\"\nthoud plan edit 17 --add \"Oil-pump drive\" --after guide-clearance --role indicator --most \"0.008 in\" --reason \"new pump\"",
		"plan check":    "thoud plan check my-plan.toml",
		"plan list":     "thoud plan list",
		"plan schema":   "thoud plan schema",
		"plan show":     "thoud plan show first-fit",
		"ports":         "thoud ports",
		"profile check": "thoud profile check my-gauge.toml",
		"profile list":  "thoud profile list",
		"profile show":  "thoud profile show text-signed-decimal-cr",
		"reopen":        "thoud reopen deck --reason \"gasket changed\"",
		"restore":       "thoud restore /media/stick/thoud-2027-03-01.tar.gz --drop-stream",
		"retake":        "thoud retake left.front --reason \"bumped\"",
		"run":           "thoud run\nthoud run --listen \"\"",
		"schema":        "thoud schema\nthoud schema entry",
		"sign":          "thoud sign ab",
		"status":        "thoud status",
		"take":          "thoud take",
		"tally in":      "thoud tally in mouth-covers",
		"tally out":     "thoud tally out mouth-covers --count 2",
		"teach":         "thoud teach /dev/ttyUSB0",
		"try":           "thoud try",
		"verify":        "thoud verify\nthoud verify --seal 967:1fda7d1e4a5b",
		"void":          "thoud void --reason \"indicator slipped\"",
		"watch":         "thoud watch --json",
		"whatif":        "thoud whatif \"engine.base_joint=0.030 in\"\nthoud whatif \"deck/left.front=0.012 in\" engine.key_in_use=B --job 17",
		"zero":          "thoud zero\nthoud zero --size \"1.0000 in\"",

		"quarantine list": "thoud quarantine list",
		"quarantine show": "thoud quarantine show 1",
		"note":            "thoud note > note.txt",
		"hub":             "thoud hub --state /srv/thoud/hub",
		"hub invite":      "thoud hub invite lathe-corner --state /srv/thoud/hub",
		"hub list":        "thoud hub list --state /srv/thoud/hub",
		"join":            "thoud join lathe-corner.invitation",
		"leave":           "thoud leave shop",
		"rebuild":         "thoud rebuild\nthoud rebuild --recompute --backup before.db",
	}
}

// addExamples gives every command its example.
func addExamples(cmd *cobra.Command) {
	for _, c := range cmd.Commands() {
		addExamples(c)
	}
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	if text, ok := examples()[path]; ok && cmd.Example == "" {
		cmd.Example = "  " + strings.ReplaceAll(text, "\n", "\n  ")
	}
}
