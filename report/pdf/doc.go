// Package pdf lays the pages of a comparison out on paper.
package pdf
