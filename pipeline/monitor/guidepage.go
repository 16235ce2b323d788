package monitor

import (
	"net/http"

	"thoud/calc/markup"
	"thoud/pipeline/monitor/view"
)

// Guide is the guide to this program, which the Help page leads to. Nil where there is none.
type Guide interface {
	// Topics lists its texts in the order of reading.
	Topics() []Topic
	// Text gives one of them, in the few marks of Markdown that view.Prose knows; an error where there is no such topic.
	Text(name string) (string, error)
}

// Topic is one text of the guide.
type Topic struct {
	Name  string // as it is asked for
	Title string
}

// HelpData is what the Help page shows.
type HelpData struct {
	Topics   []Topic
	Cautions []string // of the plan on the bench
	Pedal    string
}

func (s *Server) helpPage(w http.ResponseWriter, r *http.Request) {
	d := HelpData{Pedal: s.cfg.Pedal}
	if s.cfg.Guide != nil {
		d.Topics = s.cfg.Guide.Topics()
	}
	if b, ok := s.cfg.Bench.State().Build(s.cfg.Bench.State().Place.Build); ok && b.Plan != nil {
		d.Cautions = b.Plan.Cautions
	}
	s.page(w, r, "help", Page{Title: "Help", Data: d})
}

// guideData is one text of the guide, and what comes before and after it.
type guideData struct {
	Text         markup.HTML
	Before, Next *Topic
}

func (s *Server) guidePage(w http.ResponseWriter, r *http.Request) {
	if s.cfg.Guide == nil {
		http.Error(w, "this service has no guide; read it with: thoud guide", http.StatusNotFound)
		return
	}
	topics := s.cfg.Guide.Topics()
	for i, t := range topics {
		if t.Name != r.PathValue("topic") {
			continue
		}
		text, err := s.cfg.Guide.Text(t.Name)
		if err != nil {
			s.fail(w, err)
			return
		}
		d := guideData{Text: view.Prose(text)}
		if i > 0 {
			d.Before = &topics[i-1]
		}
		if i+1 < len(topics) {
			d.Next = &topics[i+1]
		}
		s.page(w, r, "guide", Page{Title: t.Title, Data: d})
		return
	}
	http.Error(w, "the guide has no such topic: Help lists those there are", http.StatusNotFound)
}
