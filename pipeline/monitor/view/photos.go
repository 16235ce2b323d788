package view

import "thoud/capture/bench"

// PhotoView is a photo pinned to a step.
type PhotoView struct {
	ID, Note string
	N        uint64
}

// Photos lists the photos of the step in work.
func (v View) Photos() []PhotoView {
	b, ok := v.state.Build(v.Place.Build)
	if !ok || v.Place.Step == "" {
		return nil
	}
	return photosOf(b, v.Place.Step)
}

func photosOf(b *bench.Build, step string) []PhotoView {
	var out []PhotoView
	for _, p := range b.Pictures {
		if p.Step == step {
			out = append(out, PhotoView{ID: p.ID, Note: p.Note, N: p.N})
		}
	}
	return out
}
