package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
)

// toFile writes a result where it is wanted: to standard output for "", else to a file, which has its name only once it
// is whole. A device, a pipe or a socket is written to and never replaced. A link to a file is refused: replaced, it
// would be a link no more; followed, the file at its end would lose what another user made it point at.
func toFile(cmd *cobra.Command, path string, write func(io.Writer) error) error {
	if path == "" || path == "-" {
		return write(rawOut(cmd))
	}
	if err := writeFile(path, write); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

func writeFile(path string, write func(io.Writer) error) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case info.IsDir():
		return errors.New("this is a folder: name a file in it")
	case !info.Mode().IsRegular():
		return writeThrough(path, write)
	}
	if link, err := os.Lstat(path); err == nil && link.Mode()&fs.ModeSymlink != 0 {
		return errors.New("this is a link: name the file itself")
	}
	return writeWhole(path, 0o644, write)
}

// writeThrough writes to what is there and stays there.
func writeThrough(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

// writeWhole writes a file beside and renames it; what was there under that name is there until then.
func writeWhole(path string, mode os.FileMode, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".thoud-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	if err := errors.Join(write(f), f.Chmod(mode), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
