package service

import (
	"thoud/cmd/thoud/guide"
	"thoud/pipeline/monitor"
)

// guideTexts shows the guide on the pages.
type guideTexts struct{}

var _ monitor.Guide = guideTexts{}

// Topics lists its texts in the order of reading.
func (guideTexts) Topics() []monitor.Topic {
	var out []monitor.Topic
	for _, t := range guide.Topics() {
		out = append(out, monitor.Topic{Name: t.Name, Title: t.Title})
	}
	return out
}

// Text gives one of them.
func (guideTexts) Text(name string) (string, error) { return guide.Text(name) }
