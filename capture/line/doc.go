// Package line listens to the gauges: it finds their serial ports, opens them, reads and decodes what comes, and tells
// it as events. It also finds out how an unknown gauge speaks. It refuses to open a port that another program holds, and
// it writes to a port only where a profile says so or the caller allows it. What an event means for the build is not
// its business: package capture decides that.
//
// # Why it is so
//
// One goroutine owns a port, from opening to closing, and nobody else touches it. The serial package gives the same
// error for an unplugged adapter and for a port that was closed by its owner, and closing a port to end a read leaves
// its descriptor to chance; so a read waits a third of a second at most, and a line ends by its context.
//
// A line never ends on a fault. Plugs are pulled and put in again all day in a shop, so it tells Down once, waits,
// looks where the gauge is now, and opens it there. Whoever listens sees Down and Up and can judge whether a zero still
// holds: Device changes with every plugging-in, which the path of the port does not.
//
// A gauge is found again by what is plugged in, never by the name of its port, because the kernel gives out those names
// in the order of plugging in: two adapters put in the other way round would swap left and right without a word.
//
// Ports are listed from the kernel's own table and are not opened for it: opening sets the modem lines of an adapter,
// which switches some gauges off.
//
// A good frame is not yet believed: a serial line loses bytes, and two halves of cut frames can make a good one. A value
// with fewer decimal places than the gauge has always sent, or a frame longer than what was heard when the gauge was
// registered, is told as a fault and not as a sample. A number whose frame names no unit is taken in the unit that the
// builder said the display shows, because a guess would be 25.4 times off and look right.
//
// What hangs on a bridge cannot be known from its plug. A gauge that the bridge misses goes Down and comes Up as another
// device, and so does every raw channel each time the line is opened: whoever listens loses its zero by the same rule as
// for a plug that was pulled.
//
// Several gauges may speak over one port, each on a channel of its own. The line is opened once and its gauges are its
// members; a gauge that names no channel is never given the values of two.
package line
