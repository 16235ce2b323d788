package monitor

import (
	"thoud/calc/markup"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// methods are those that the templates call. A template that calls another fails with the name that is missing here.
func methods() markup.Funcs {
	return markup.Funcs{
		"view.View.Gauges":   view.View.Gauges,
		"view.View.Photos":   view.View.Photos,
		"view.View.Pictures": view.View.Pictures,
		"view.View.Plan":     view.View.Plan,
		"view.View.Share":    view.View.Share,

		"view.Rule.BandHigh":   (*view.Rule).BandHigh,
		"view.Rule.BandY":      (*view.Rule).BandY,
		"view.Rule.Labels":     (*view.Rule).Labels,
		"view.Rule.LowerY":     (*view.Rule).LowerY,
		"view.Rule.Says":       (*view.Rule).Says,
		"view.Rule.TargetY":    (*view.Rule).TargetY,
		"view.Rule.Ticks":      (*view.Rule).Ticks,
		"view.Rule.UpperY":     (*view.Rule).UpperY,
		"view.Rule.WantedText": (*view.Rule).WantedText,

		"monitor.BenchBuild.Called":   BenchBuild.Called,
		"monitor.BenchBuild.Ref":      BenchBuild.Ref,
		"monitor.LedgerData.Filtered": LedgerData.Filtered,

		"quantity.Value.Valid": quantity.Value.Valid,

		"bench.Preview.Words": bench.Preview.Words,
		"bench.Result.Orders": bench.Result.Orders,
	}
}
