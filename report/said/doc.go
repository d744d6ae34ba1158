// Package said puts results into sentences and numbers into digits: headlines, what is said of
// a position and of a rep, intervals, signs. All that pages, pictures and tables have in common to say
// is said here once; the words themselves stand in the catalogue of package words.
package said
