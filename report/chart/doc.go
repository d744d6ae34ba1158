// Package chart draws charts as lists of marks, so that a page (as SVG in the reader's light or dark
// colours), a PDF and a file of its own show the same. Conditions differ in colour, dash and sign, so that a
// grey print loses nothing.
package chart
