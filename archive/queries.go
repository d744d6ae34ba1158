package archive

import (
	_ "embed"
	"fmt"
	"reflect"
	"strings"
)

//go:embed queries.sql
var queriesText string

// q holds the statements of queries.sql by their names.
var q = mustQueries(queriesText)

type queries struct {
	AthleteInsert, AthleteUpdate, AthleteByID, Athletes, AthleteDelete                              string
	VisitInsert, VisitFind, VisitByID, VisitsOfAthlete, VisitUpdate, VisitDelete                    string
	FileInsert, FileSize, Files, FileDeleteUnused, FilesUnused, FileUses                            string
	FilesOfClip, FilesOfResult, FilesOfComparison                                                   string
	ClipInsert, ClipByID, ClipByFile, ClipsOfAthlete, ClipIDsOfVisit, ClipUpdate, ClipDelete        string
	ResultInsert, ResultOfClip, ResultDeleteOfClip                                                  string
	ResultFileInsert, ResultFileOld, ResultFiles                                                    string
	CorrectionInsert, CorrectionsOfClip, CorrectionsDropUndone                                      string
	CorrectionLastSeq, CorrectionSetUndone                                                          string
	ComparisonInsert, ComparisonClipInsert, ComparisonFileInsert, ComparisonFileOld, ComparisonByID string
	ComparisonsOfAthlete, ComparisonsOfClip, ComparisonClips, ComparisonFiles, ComparisonDelete     string
	JobInsert, JobByID, JobNext, JobStart, JobProgress, JobFinish, JobCancel                        string
	JobReturn, JobsRecent, JobsUnfinished, JobSetBack, JobsRequeue                                  string
	ComparisonFilesDelete                                                                           string
	CountResults, CountRows, ClipsAstray, ComparisonsAstray, FileNames                              string
}

// mustQueries reads the embedded file; a name without a statement, or the other way
// round, is a mistake of the programmer that every test shows.
func mustQueries(text string) queries {
	var out queries
	v := reflect.ValueOf(&out).Elem()
	for _, part := range strings.Split(text, "-- name: ")[1:] {
		name, body, _ := strings.Cut(part, "\n")
		f := v.FieldByName(strings.TrimSpace(name))
		if !f.IsValid() || f.String() != "" {
			panic(fmt.Sprintf("archive: the statement %q is not wanted or there twice", name))
		}
		f.SetString(strings.TrimSpace(body))
	}
	for i := range v.NumField() {
		if v.Field(i).String() == "" {
			panic(fmt.Sprintf("archive: the statement %s is missing", v.Type().Field(i).Name))
		}
	}
	return out
}
