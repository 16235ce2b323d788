package view

import "fmt"

// LeftWords says that some builds are not in what is shown, because they are not reckoned up yet; "" where all are.
func LeftWords(left, of int) string {
	if left == 0 {
		return ""
	}
	return fmt.Sprintf("Not all builds are in this yet: %d of %d are still being reckoned up, the newest first. Load the page again in a minute.", left, of)
}
