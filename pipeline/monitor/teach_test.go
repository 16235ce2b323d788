package monitor_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// fakeTeacher hears a frame that counts up; the first time it is listened to nothing comes.
type fakeTeacher struct {
	mu      sync.Mutex
	heard   int
	lessons []monitor.Lesson
}

func (f *fakeTeacher) Begin(context.Context, monitor.TaughtLine) (monitor.TeachPlan, error) {
	return monitor.TeachPlan{Asks: []string{"0", "something positive", "the same below zero", "the other unit, if it has one", "one more value, to prove it"}, Least: 3}, nil
}

func (f *fakeTeacher) Hear(context.Context, monitor.TaughtLine, bool) (monitor.Heard, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.heard++; f.heard == 1 {
		return monitor.Heard{}, errors.New("no press came within 45s")
	}
	frame := fmt.Sprintf("frame %d\r", f.heard)
	return monitor.Heard{Bytes: []byte(frame), Words: fmt.Sprintf("%q", frame)}, nil
}

func (f *fakeTeacher) Learn(_ context.Context, l monitor.Lesson) (monitor.Taught, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.lessons = append(f.lessons, l)
	return monitor.Taught{Profile: l.Name, Unit: "mm"}, nil
}

// TestAGaugeIsTaughtFromThePage goes through a lesson: a press that does not come is asked for again, the value that the gauge
// does not have is skipped, and what was learnt stands in the form that registers the gauge. A port that a registered gauge
// has is refused.
func TestAGaugeIsTaughtFromThePage(t *testing.T) {
	f, teacher := newFakeBench(t), &fakeTeacher{}
	url := serve(t, monitor.Config{Bench: f, Finder: fakeFinder{}, Teacher: teacher})
	ctx := tab(t, 1280, 800)
	complaints := listen(t, ctx)
	do(t, ctx, chromedp.Navigate(url+"/find"), chromedp.Click(chromedp.CSS("#teach summary")), chromedp.SendKeys(chromedp.CSS("#teach-line [name=name]"), "old-dial"), chromedp.Click(chromedp.CSS("#teach-line button")))
	eventually(t, ctx, "the first value to be asked for", `said("#teach-ask").startsWith("Set the gauge to 0.")`)
	if eval[bool](t, ctx, `document.getElementById("teach-skip").getClientRects().length > 0`) {
		t.Error("the first value may be skipped")
	}
	show := func(value string) {
		t.Helper()
		do(t, ctx, chromedp.SendKeys(chromedp.CSS("#teach-value [name=shown]"), value+"\r"))
	}
	show("0.00 mm")
	eventually(t, ctx, "the press that did not come", `said("#teach-words").includes("No press came")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#teach-listen"))) // what was typed is still there
	eventually(t, ctx, "the second value", `said("#teach-ask").includes("something positive")`)
	show("12.34 mm")
	eventually(t, ctx, "the third value", `said("#teach-ask").includes("below zero")`)
	show("-12.34 mm")
	eventually(t, ctx, "the other unit", `said("#teach-ask").includes("the other unit")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#teach-skip")))
	eventually(t, ctx, "the proof", `said("#teach-ask").includes("to prove it")`)
	show("7.89 mm")
	eventually(t, ctx, "what was learnt", `said("#teach-words").startsWith("Learnt and proved.") && document.querySelector("#register [name=profile]").value === "old-dial" &&
		document.querySelector("#register [name=port]").value === "/dev/ttyUSB3" && document.querySelector("#register [name=unit]").value === "mm" && document.activeElement.name === "name"`)
	if len(teacher.lessons) != 1 || len(teacher.lessons[0].Presses) != 4 || teacher.lessons[0].Presses[3].Shown != "7.89 mm" || string(teacher.lessons[0].Presses[0].Bytes) != "frame 2\r" || teacher.lessons[0].At.Baud != 9600 {
		t.Errorf("the lesson: %+v", teacher.lessons)
	}
	if got := eval[string](t, ctx, `fetch("/teach/begin", {method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify({at: {port: "/dev/pts/7", baud: 9600, bits: 8, stop: 1, parity: "none"}})}).then((r) => r.text())`); !strings.Contains(got, "the port of dial-1") {
		t.Errorf("the port of a registered gauge: %s", got)
	}
	for _, line := range complaints() {
		if !strings.Contains(line, "409") {
			t.Errorf("the console says: %s", line)
		}
	}
}
