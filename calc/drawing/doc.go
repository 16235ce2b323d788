// Package drawing draws the jobs of an engine build: one line drawing a job, in section or from above, driven by numbers.
// The line kinds are those of ISO 128: thick outlines, thin lines half as thick, long dash and dot for centre lines, short
// dashes for what is hidden, a long dash and two dots for another position, hatching at 45 degrees for what is cut. Blue,
// and thicker, is only what is meant now; on paper it is black and thicker.
//
// Rows is the table: one row a drawing, with the jobs it belongs to, the numbers that drive it, its choices and the moves
// it can show. Of draws a row. What is not known is drawn in its usual place and carries no figure; a name that the row
// does not have, or a number that is none, is refused in one sentence, because a drawing that shows the wrong thing is
// worse than none.
//
// Left is left as seen from the rider's seat, and nothing is ever mirrored. A part that lies turned over on the bench is
// drawn turned over end for end, so that its left stays left and its front comes towards the viewer; it then carries a
// front mark and shows both sides.
//
// A Picture is a list of strokes, not a text, because the page wants SVG and a sheet wants strokes of its own; both look up
// the same table of looks. The SVG carries classes alone and no style, identifier or reference, so that a page under a
// strict content security policy can show ten of them. Hatching is computed, not a pattern, for the same reason.
package drawing
