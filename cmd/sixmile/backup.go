package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"sixmile/internal/audit"
	"sixmile/internal/cluster"
	"sixmile/internal/postgres"
)

type backupCommand struct {
	Write  backupWriteCommand  `cmd:"" default:"withargs" help:"Write everything the database holds into a file, while work goes on."`
	Verify backupVerifyCommand `cmd:"" help:"Put a backup into a database that is thrown away, count every edition again and compare digests; exit code 1 if anything differs."`
}

type backupWriteCommand struct {
	database
	File string `arg:"" help:"File to write; there must be none of that name." type:"path"`
}

// Run writes the file, whole or not at all.
func (b backupWriteCommand) Run(ctx context.Context, c console) error {
	return b.with(ctx, c, func(o *opened) error {
		said, size, err := writeBackup(ctx, o.logins.Admin, b.File)
		if err == nil {
			fmt.Fprintf(c.out, "%s: %s, %.1f MB. It holds what the server knows of everybody: keep it as you keep the server, and no longer than you say.\n",
				b.File, contents(said), float64(size)/1e6)
		}
		return err
	})
}

func contents(b postgres.Backup) string {
	return fmt.Sprintf("%q of %s, %s, %s, %s", b.Program, b.Day,
		many(b.Rows["priv.sample"], "sample"), many(len(b.Editions), "edition"), many(b.Recalls, "recall"))
}

// writeBackup writes beside the name first. What stands under a name is whole and on
// the disk.
func writeBackup(ctx context.Context, adminDSN, name string) (b postgres.Backup, size int64, err error) {
	if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
		return b, 0, errors.Join(err, fmt.Errorf("%s is there already", name))
	}
	part := name + ".part"
	file, err := os.OpenFile(part, os.O_RDWR|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return b, 0, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, file.Close(), os.Remove(part))
		}
	}()
	if _, err = postgres.WriteBackup(ctx, adminDSN, file, today()); err != nil {
		return b, 0, err
	}
	if size, err = file.Seek(0, io.SeekEnd); err != nil {
		return b, 0, err
	}
	// Read back as it would be read: a disk that lies is found out now.
	if b, err = postgres.ReadBackup(file, size); err != nil {
		return b, 0, err
	}
	if err = file.Sync(); err != nil {
		return b, 0, err
	}
	if err = os.Rename(part, name); err != nil {
		return b, 0, err
	}
	return b, size, errors.Join(file.Close(), syncFolder(filepath.Dir(name)))
}

// syncFolder puts a folder's names on the disk.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

type backupVerifyCommand struct {
	File string `arg:"" help:"The backup." type:"existingfile"`
}

// Run restores into a cluster that is thrown away, and looks at everything.
func (b backupVerifyCommand) Run(ctx context.Context, c console) (err error) {
	file, size, err := openBackup(b.File)
	if err != nil {
		return err
	}
	defer file.Close()
	if _, err := postgres.ReadBackup(file, size); err != nil {
		return err
	}
	if _, err := cluster.Ensure(ctx, c.err); err != nil {
		return err
	}
	scratch, err := cluster.Open(ctx, cluster.Options{Throwaway: true})
	if err != nil {
		return err
	}
	o := &opened{cluster: scratch}
	defer func() { err = errors.Join(err, o.close()) }()
	if _, err := scratch.CreateDatabase(ctx, "sixmile"); err != nil {
		return err
	}
	o.logins.Admin = scratch.DSN("sixmile", "")
	said, err := postgres.Restore(ctx, o.logins.Admin, file, size)
	if err != nil {
		return err
	}
	if err := o.connect(ctx); err != nil {
		return err
	}
	if err := lookOver(ctx, c, o, said.Editions, nil); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "Good: %s.\n", contents(said))
	return nil
}

func openBackup(name string) (*os.File, int64, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, 0, err
	}
	st, err := file.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, file.Close())
	}
	return file, st.Size(), nil
}

// errLookedOver makes the exit code 1.
var errLookedOver = errors.New("what was restored is not what was public: nothing of it is served")

// lookOver counts the editions of a backup again, compares their digests with those
// the backup gives, and runs the audit over everything public. Editions that a
// witness brought back lack results and are judged by their text alone, which is part
// of the audit.
func lookOver(ctx context.Context, c console, o *opened, editions, brought []postgres.BackedUp) error {
	store, good := postgres.NewEditions(o.staff), true
	for _, e := range editions {
		p, err := store.Verify(ctx, e.Number)
		if err != nil {
			return err
		}
		verdict := "as released"
		if !p.OK() || fmt.Sprintf("%x", p.Rebuilt) != e.Digest {
			verdict, good = "DIFFERS", false
		}
		fmt.Fprintf(c.out, "edition %d  %s  %x  %s\n", e.Number, p.Code, p.Rebuilt[:8], verdict)
	}
	for _, e := range brought {
		fmt.Fprintf(c.out, "edition %d  %s  %.16s  brought back by the witness\n", e.Number, e.Code, e.Digest)
	}
	archive, err := postgres.NewArchive(o.public).Read(ctx)
	if err != nil {
		return err
	}
	if len(archive.Editions) > 0 {
		findings := audit.Findings(audit.Run(archive, nil))
		for _, f := range findings {
			fmt.Fprintln(c.out, "audit:", f)
		}
		good = good && len(findings) == 0
		fmt.Fprintf(c.out, "audit of %s: %s\n", many(len(archive.Editions), "edition"), many(len(findings), "finding"))
	}
	if !good {
		return errLookedOver
	}
	return nil
}
