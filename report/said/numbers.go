package said

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"holdfast/words"
)

// Degrees writes an angle in whole degrees, with a real minus sign; "–" when it
// is missing.
func Degrees(v float64) string {
	if math.IsNaN(v) {
		return Whole(v)
	}
	return Whole(v) + "°"
}

// Whole writes a number without decimals, with a real minus sign and without a
// negative zero.
func Whole(v float64) string { return words.Number(v, 0) }

// Interval writes a 95 % interval: "6 to 12".
func Interval(lo, hi float64) string {
	if math.IsNaN(lo) || math.IsNaN(hi) {
		return Say("ends_unknown")
	}
	return Ends(Whole(lo), Whole(hi))
}

// Ends writes the two ends of an interval.
func Ends(lo, hi string) string { return Say("ends", "lo", lo, "hi", hi) }

// KnownInterval says whether an interval was measured. In results of before
// intervals were kept, both ends are 0.
func KnownInterval(v [2]float64) bool {
	return !math.IsNaN(v[0]) && !math.IsNaN(v[1]) && v[0] != v[1]
}

// IntervalOrNone writes an interval, empty when it was not measured.
func IntervalOrNone(v [2]float64) string {
	if !KnownInterval(v) {
		return ""
	}
	return Interval(v[0], v[1])
}

// Decimal writes a number with a real minus sign and without a negative zero.
func Decimal(v float64, decimals int) string { return words.Number(v, decimals) }

// Decimals2 writes an interval with decimals.
func Decimals2(iv [2]float64, decimals int) string {
	return Ends(Decimal(iv[0], decimals), Decimal(iv[1], decimals))
}

// Tenths writes an angle that may be small: "4°", or with a decimal below three
// degrees.
func Tenths(v float64) string {
	if v < 3 {
		return Decimal(v, 1) + "°"
	}
	return Degrees(v)
}

// Signed writes an angle that grew or shrank: "+3°".
func Signed(v float64) string {
	if math.Round(v) > 0 {
		return "+" + Degrees(v)
	}
	return Degrees(v)
}

// Trimmed writes a time with as many decimals as it needs.
func Trimmed(v float64) string {
	return strings.TrimSuffix(Decimal(math.Abs(v), 1), strings.TrimPrefix(Decimal(0, 1), "0"))
}

func Capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// ZeroMark returns the mark of an angle that is not counted from the athlete's own standing;
// empty for one that is.
func ZeroMark(zeroKnown bool) string {
	if zeroKnown {
		return ""
	}
	return "†"
}

// BottomDegrees writes the angle of a position: "118°", "118°†" where it has no zero.
func BottomDegrees(deg float64, zeroKnown bool) string {
	if math.IsNaN(deg) {
		return Degrees(deg)
	}
	return Degrees(deg) + ZeroMark(zeroKnown)
}
