// Package sidebyside shows two reps against each other, in the same body size and aligned at the bottom in place
// and time: as a video, as one picture over the other, and each by itself for a page.
package sidebyside
