package ledgertest

import "syscall"

// The magic numbers of file systems in memory (statfs(2)).
const (
	tmpfsMagic = 0x01021994
	ramfsMagic = 0x858458f6
)

// inMemory names the file system of a folder where that is one in memory; "" where it is not.
func inMemory(dir string) (string, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return "", err
	}
	switch uint32(st.Type) {
	case tmpfsMagic:
		return "tmpfs", nil
	case ramfsMagic:
		return "ramfs", nil
	}
	return "", nil
}
