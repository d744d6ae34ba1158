// Package samples holds what the analyzer reports and what it lets pass.
package samples

func short(n int) int { return n }

type kind[T any] struct{}

func (*kind[T]) long() { // want `kind.long has 83 lines, more than 80`
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
	short(1)
}

func manyWays(n int) int { // want `manyWays has 27 ways through it, more than 26`
	if n == 0 || n == 100 {
		n++
	}
	if n == 1 || n == 101 {
		n++
	}
	if n == 2 || n == 102 {
		n++
	}
	if n == 3 || n == 103 {
		n++
	}
	if n == 4 || n == 104 {
		n++
	}
	if n == 5 || n == 105 {
		n++
	}
	if n == 6 || n == 106 {
		n++
	}
	if n == 7 || n == 107 {
		n++
	}
	if n == 8 || n == 108 {
		n++
	}
	if n == 9 || n == 109 {
		n++
	}
	if n == 10 || n == 110 {
		n++
	}
	if n == 11 || n == 111 {
		n++
	}
	if n == 12 || n == 112 {
		n++
	}
	return n
}

// The longest line that may be; its letters are counted and not their bytes: ääääääääääääääääääääääääääääääääääääääääää
const longest = 0

const wide = "äääääääääääääääääääääääääääääääääääääääääääääääääääääääääää" // want `a line of 121 columns, more than 120`
