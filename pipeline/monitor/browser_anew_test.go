package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// A press finds its button although the page draws it anew all the time: what was found may be gone before it is pressed.
func TestPressesOutlastAPageDrawnAnew(t *testing.T) {
	ctx := tab(t, 800, 600)
	do(t, ctx, chromedp.Navigate(`data:text/html,<div id="all"><button>Take</button></div><script>
		(function redraw() { document.getElementById("all").innerHTML = "<button>Take</button>"; setTimeout(redraw, 0); })();
	</script>`))
	for range 100 {
		do(t, ctx, chromedp.Click(chromedp.CSS("button")))
	}
}
