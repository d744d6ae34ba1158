package archive

import (
	"context"
	"database/sql"
	"fmt"

	"holdfast/archive/rows"
)

// ReplaceComparisonFiles makes files that were put into the archive all that a
// comparison has, in one step: what was made of the numbers of before goes. The error
// wraps ErrNotFound when the comparison or a file is not there.
func (a *Archive) ReplaceComparisonFiles(ctx context.Context, id string, files []File) error {
	err := checkFiles(files)
	if err == nil {
		_, _, err = a.discard(ctx, func(tx *sql.Tx) ([]string, error) {
			if _, err := scanComparison(tx.QueryRowContext(ctx, q.ComparisonByID, id)); err != nil {
				return nil, rows.NotFound(err)
			}
			maybe, err := rows.Texts(ctx, tx, q.FilesOfComparison, id)
			if err != nil {
				return nil, err
			}
			if _, err := tx.ExecContext(ctx, q.ComparisonFilesDelete, id); err != nil {
				return nil, err
			}
			for _, f := range files {
				if _, err := tx.ExecContext(ctx, q.ComparisonFileInsert, id, f.Name, f.SHA256); err != nil {
					return nil, err
				}
			}
			return maybe, nil
		})
	}
	a.named(err, files...)
	if err != nil {
		return fmt.Errorf("renewing a comparison: %w", err)
	}
	return nil
}
