package archive

import (
	_ "embed"

	"holdfast/archive/rows"
)

//go:embed queries.sql
var queriesText string

// q holds the statements of queries.sql by their names.
var q = func() (all queries) {
	rows.MustFill(&all, queriesText)
	return all
}()

type queries struct {
	JobCounts, JobsFailed, FileCounts                                                                string
	AthleteInsert, AthleteUpdate, AthleteByID, Athletes, AthleteGive, AthleteDelete                  string
	VisitInsert, VisitFind, VisitByID, VisitsOfAthlete, VisitUpdate, VisitDelete, VisitDeleteEmptied string
	FilesOfClip, FilesOfResult, FilesOfComparison                                                    string
	ClipInsert, ClipByID, ClipByFile, ClipsOfAthlete, ClipIDsOfVisit, ClipUpdate, ClipDelete         string
	ResultInsert, ResultOfClip, ResultDeleteOfClip                                                   string
	ResultFileInsert, ResultFileOld, ResultFiles                                                     string
	CorrectionInsert, CorrectionsOfClip, CorrectionsDropUndone                                       string
	CorrectionLastSeq, CorrectionSetUndone                                                           string
	ComparisonInsert, ComparisonClipInsert, ComparisonFileInsert, ComparisonFileOld, ComparisonByID  string
	ComparisonsOfAthlete, ComparisonsOfClip, ComparisonClips, ComparisonFiles, ComparisonDelete      string
	JobInsert, JobByID, JobNext, JobStart, JobProgress, JobFinish, JobCancel                         string
	JobReturn, JobsRecent, JobsUnfinished, JobSetBack, JobsRequeue, JobPutOff, JobTries, JobBatch    string
	ComparisonFilesDelete                                                                            string
	MarksOfClip, MarksSet, MarksDelete                                                               string
	CountResults                                                                                     string
	ClipSetVisit, JoinInsert, JoinDelete                                                             string
}
