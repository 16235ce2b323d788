package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"
)

// An id names one entry of one bench. The table asks more: none twice in the whole file. At a bench that is the same. At a hub
// it would let one bench keep another's entries out, by sending others of the same ids before they come. So an id that another
// line has there already is kept with its own line's name before it. No line's name holds the mark, and an id that holds it is
// always kept so: whatever ids a bench makes up, what it takes is its own.
const idMark = "/"

// ofLine narrows a query to the entry or reading ?2 of the line ?1. The sign before bench holds SQLite to the index of the ids:
// left to itself it may go through all that the line has.
const ofLine = "+bench = ?1 AND id IN (?2, ?1 || '" + idMark + "' || ?2)"

// askEntryOf asks for an entry by its id.
const askEntryOf = "SELECT n, body, seal FROM entry WHERE " + ofLine

// idIn gives what an entry's id is kept under in a line, and the seal of the entry that is there; nil where none is.
func (w writing) idIn(ctx context.Context, line, id string) (kept string, there []byte, err error) {
	if !strings.Contains(id, idMark) {
		there, of, err := w.known(ctx, id)
		if err != nil || there == nil || of == line {
			return id, there, err
		}
	}
	kept = line + idMark + id
	there, _, err = w.known(ctx, kept)
	return kept, there, err
}

// known gives the seal of the entry that is kept under an id, and whose it is; nil where none is.
func (w writing) known(ctx context.Context, kept string) (there []byte, of string, err error) {
	err = w.row(ctx, askKnown, kept).Scan(&there, &of)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return there, of, err
}

// asSaid is an id as an entry says it, out of what it is kept under in a line; one that is not the entry's stays as it is.
func asSaid(line, kept, id string) string {
	if kept == line+idMark+id {
		return id
	}
	return kept
}
