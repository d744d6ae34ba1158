package rows

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"

	"holdfast/words"
)

// ErrAddress: the address of a database cannot be read.
var ErrAddress error = words.Error("database_address")

// The numbers of advisory locks, which every program that uses the database knows.
const (
	lockWriting int64 = 0x686f6c64_00000001 // one writes at a time
	lockFiles   int64 = 0x686f6c64_00000002 // files are put or removed
	lockTurns   int32 = 0x686f6c64          // and an id: whose turn it is
	lockServing int64 = 0x686f6c64_00000003 // held by the one server
)

// connections are what one program takes of the server, for each of its pools.
const connections = 6

// OpenPostgres returns a pool of connections to the PostgreSQL database at an address, postgres://USER@HOST/NAME. It
// takes the statements of SQLite: placeholders are rewritten on the way.
func OpenPostgres(address string) (*sql.DB, error) { return openPostgres(address, nil) }

// OpenPostgresSoon is OpenPostgres, but that a commit does not wait for the server's disk: a crash of the server may
// lose what was committed in the second before it, and nothing else.
func OpenPostgresSoon(address string) (*sql.DB, error) {
	return openPostgres(address, map[string]string{"synchronous_commit": "off"})
}

func openPostgres(address string, settings map[string]string) (*sql.DB, error) {
	if !strings.HasPrefix(address, "postgres://") && !strings.HasPrefix(address, "postgresql://") {
		return nil, ErrAddress
	}
	config, err := pgx.ParseConfig(address)
	if err != nil {
		return nil, ErrAddress // its text may hold the password
	}
	maps.Copy(config.RuntimeParams, settings)
	db := sql.OpenDB(connector{stdlib.GetConnector(*config)})
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(2)
	db.SetConnMaxIdleTime(time.Minute)
	return db, nil
}

// Shared says whether a database is one that several computers use: one of PostgreSQL.
func Shared(db *sql.DB) bool {
	_, ok := db.Driver().(shared)
	return ok
}

// shared is the driver of PostgreSQL that takes the statements of SQLite.
type shared struct{ *stdlib.Driver }

type connector struct{ driver.Connector }

func (c connector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := c.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	plain, ok := conn.(*stdlib.Conn)
	if !ok {
		return nil, errors.Join(fmt.Errorf("a connection of type %T", conn), conn.Close())
	}
	return rewriting{plain}, nil
}

func (c connector) Driver() driver.Driver { return shared{} }

// rewriting is a connection that rewrites placeholders.
type rewriting struct{ *stdlib.Conn }

func (c rewriting) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	return c.Conn.PrepareContext(ctx, numbered(query))
}

func (c rewriting) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	return c.Conn.ExecContext(ctx, numbered(query), args)
}

func (c rewriting) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	return c.Conn.QueryContext(ctx, numbered(query), args)
}

// rewritten are the statements that were rewritten: there are some eighty.
var rewritten sync.Map

// numbered returns a statement with $1, $2 and so on for its placeholders: ? in turn, or ?1 for the first.
func numbered(query string) string {
	if out, ok := rewritten.Load(query); ok {
		return out.(string)
	}
	var out strings.Builder
	n, quoted := 0, false
	for i := 0; i < len(query); i++ {
		c := query[i]
		if c == '\'' {
			quoted = !quoted
		}
		if c != '?' || quoted {
			out.WriteByte(c)
			continue
		}
		if i+1 < len(query) && query[i+1] >= '1' && query[i+1] <= '9' {
			out.WriteByte('$') // its number follows
			continue
		}
		n++
		fmt.Fprintf(&out, "$%d", n)
	}
	rewritten.Store(query, out.String())
	return out.String()
}

// becausePostgres adds its kind to an error of PostgreSQL: a broken reference is ErrNotFound, a broken rule ErrInvalid,
// and that the server cannot be reached is said in words.
func becausePostgres(err error) error {
	var connect *pgconn.ConnectError
	if errors.As(err, &connect) {
		return words.Instead(err, "database_unreachable", words.Params{"host": connect.Config.Host,
			"database": connect.Config.Database})
	}
	var e *pgconn.PgError
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code {
	case "23503": // foreign_key_violation
		return fmt.Errorf("%w: %w", ErrNotFound, err)
	case "23502", "23505", "23514", "22P02", "22021": // not null, unique, check, no number, no text
		return fmt.Errorf("%w: %w", ErrInvalid, err)
	case "XX001", "XX002": // data_corrupted, index_corrupted
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}

// begin opens a transaction that writes. Of a shared database one writes at a time, as of SQLite: what it reads holds
// until it commits, whoever else is at work.
func begin(ctx context.Context, write *sql.DB) (*sql.Tx, error) {
	tx, err := write.BeginTx(ctx, nil)
	if err != nil || !Shared(write) {
		return tx, err
	}
	if _, err := tx.ExecContext(ctx, "SELECT pg_advisory_xact_lock(?)", lockWriting); err != nil {
		return nil, errors.Join(err, tx.Rollback())
	}
	return tx, nil
}

// unlockTime bounds giving a lock up; the server does it by itself when the connection is gone.
const unlockTime = 5 * time.Second

// LockFiles waits for the turn to remove files of a shared database, or, shared with others of the kind, to put some.
// The lock goes with the connection that took it: alive says whether it is still held.
func LockFiles(ctx context.Context, locks *sql.DB, removing bool) (unlock func(), alive func() error, err error) {
	take := "SELECT pg_advisory_lock_shared(?)"
	if removing {
		take = "SELECT pg_advisory_lock(?)"
	}
	conn, err := holding(ctx, locks, func(conn *sql.Conn) error {
		_, err := conn.ExecContext(ctx, take, lockFiles)
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	return func() { giveBack(ctx, conn) }, func() error { return Damaged(conn.PingContext(ctx)) }, nil
}

// holding returns a connection that has taken locks. One that ended unnoticed while nobody used it is left for another.
func holding(ctx context.Context, locks *sql.DB, take func(*sql.Conn) error) (*sql.Conn, error) {
	for unnoticed := 0; ; unnoticed++ {
		conn, err := locks.Conn(ctx)
		if err != nil {
			return nil, Damaged(err)
		}
		if err = take(conn); err == nil {
			return conn, nil
		}
		drop(conn)
		if !errors.Is(err, driver.ErrBadConn) || unnoticed > connections {
			return nil, Damaged(err)
		}
	}
}

// drop closes a connection, and with it what it had locked.
func drop(conn *sql.Conn) {
	_ = conn.Raw(func(any) error { return driver.ErrBadConn })
	_ = conn.Close()
}

// giveBack gives all locks of a connection up and the connection back to its pool.
func giveBack(ctx context.Context, conn *sql.Conn) {
	end, done := context.WithTimeout(context.WithoutCancel(ctx), unlockTime)
	defer done()
	if _, err := conn.ExecContext(end, "SELECT pg_advisory_unlock_all()"); err != nil {
		drop(conn)
		return
	}
	_ = conn.Close()
}

// LockTurns waits for the turns of what has these ids, sorted, so that no two wait for each other.
func LockTurns(ctx context.Context, locks *sql.DB, ids []string) (unlock func(), err error) {
	conn, err := holding(ctx, locks, func(conn *sql.Conn) (err error) {
		for _, id := range ids {
			if _, err = conn.ExecContext(ctx, "SELECT pg_advisory_lock(?, hashtext(?))", lockTurns, id); err != nil {
				break
			}
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return func() { giveBack(ctx, conn) }, nil
}

// LockServing takes the lock of the one server of a shared database, until it is given up or the program ends; nil when
// another has it.
func LockServing(ctx context.Context, locks *sql.DB) (giveUp func() error, err error) {
	conn, err := locks.Conn(ctx)
	if err != nil {
		return nil, Damaged(err)
	}
	giveUp = func() error {
		_ = conn.Raw(func(any) error { return driver.ErrBadConn }) // closes it, and with it the lock
		if err := conn.Close(); !errors.Is(err, sql.ErrConnDone) {
			return err
		}
		return nil
	}
	var ok bool
	err = conn.QueryRowContext(ctx, "SELECT pg_try_advisory_lock(?)", lockServing).Scan(&ok)
	if err != nil || !ok {
		return nil, errors.Join(Damaged(err), giveUp())
	}
	return giveUp, nil
}
