// Package resultdir writes a folder of results in one step: it is built beside its place under a
// temporary name and exchanged with what stood there, so that a failure of any kind leaves
// an earlier result as it was. What somebody else put into that folder stays.
package resultdir
