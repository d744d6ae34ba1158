// Package terminal writes for a person at a terminal: the tables of an analysis and of a comparison, how far a job
// has come, and single lines. All that comes from outside is printed as one line without hidden characters ([Say]).
package terminal
