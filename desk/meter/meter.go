// Package meter counts what a program does, and writes counts in the text format that Prometheus reads: a line a
// number, NAME{LABEL="VALUE",...} NUMBER. Names and labels are the program's own words: what people are called is never
// counted.
package meter

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Meter is counts that only grow, by name and labels. Its methods may be called at the same time.
type Meter struct {
	mu     sync.Mutex
	counts map[string]float64
}

// Add adds to a count. labels are names and values in turn; a name of a count ends in _total.
func (m *Meter) Add(name string, by float64, labels ...string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.counts == nil {
		m.counts = map[string]float64{}
	}
	m.counts[Series(name, labels...)] += by
}

// Value returns a count.
func (m *Meter) Value(name string, labels ...string) float64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.counts[Series(name, labels...)]
}

// Write writes all counts.
func (m *Meter) Write(w io.Writer) error {
	m.mu.Lock()
	all := maps.Clone(m.counts)
	m.mu.Unlock()
	return Write(w, "counter", all)
}

// plain makes a label's value of a text: what Prometheus would have to be told by a backslash is left away.
var plain = strings.NewReplacer("\\", "", "\"", "", "\n", " ", " ", "_")

// Series names a number by labels, which are names and values in turn.
func Series(name string, labels ...string) string {
	var out strings.Builder
	out.WriteString(name)
	for i := 0; i+1 < len(labels); i += 2 {
		out.WriteString(map[bool]string{true: "{", false: ","}[i == 0])
		fmt.Fprintf(&out, `%s="%s"`, labels[i], plain.Replace(labels[i+1]))
	}
	if len(labels) > 1 {
		out.WriteByte('}')
	}
	return out.String()
}

// Write writes numbers of a kind, counter or gauge, by their series, those of one name together.
func Write(w io.Writer, kind string, all map[string]float64) error {
	name := func(series string) string {
		before, _, _ := strings.Cut(series, "{")
		return before
	}
	of := map[string][]string{}
	for series := range all {
		of[name(series)] = append(of[name(series)], series)
	}
	for _, n := range slices.Sorted(maps.Keys(of)) {
		if _, err := fmt.Fprintf(w, "# TYPE %s %s\n", n, kind); err != nil {
			return err
		}
		for _, series := range slices.Sorted(slices.Values(of[n])) {
			if _, err := fmt.Fprintf(w, "%s %s\n", series, strconv.FormatFloat(all[series], 'g', -1, 64)); err != nil {
				return err
			}
		}
	}
	return nil
}
