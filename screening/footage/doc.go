// Package footage judges how a clip was filmed and cut, before and after it is measured: which scenes show the athlete
// alike and are measured together, which reps are shown again, and whether the floor stays where it is.
package footage
