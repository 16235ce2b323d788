package simulate

import "golang.org/x/sys/unix"

const (
	getTermios = unix.TIOCGETA
	setTermios = unix.TIOCSETA
	unread     = 0x4004667f // FIONREAD of sys/filio.h
)
