package service

import (
	"context"
	"errors"
	"io/fs"

	"rsc.io/qr"

	"thoud/store"
	"thoud/store/sheet"
)

// sheetNote is a note as a sheet shows it: the text, and the same text as a square code that a telephone reads. The code
// bears a seventh of itself lost to oil; where a note is too long for one, the text stands alone.
func sheetNote(text string) *sheet.Note {
	n := &sheet.Note{Text: text}
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return n
	}
	for y := range code.Size {
		row := make([]bool, code.Size)
		for x := range row {
			row[x] = code.Black(x, y)
		}
		n.QR = append(n.QR, row)
	}
	return n
}

// NoteForSheet is the note made last in a state folder, as a sheet shows it; nil where none was made yet.
func NoteForSheet(dir string) (*sheet.Note, error) {
	text, err := NewestNote(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return sheetNote(text), nil
}

// WitnessedForSheet is the note that a sheet from a hub carries: the bench's newest, signed by both.
func WitnessedForSheet(ctx context.Context, s *store.Store, dir, line string) (*sheet.Note, error) {
	text, err := Witnessed(ctx, s, dir, line)
	if err != nil {
		return nil, err
	}
	return sheetNote(text), nil
}
