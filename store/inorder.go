package store

import "context"

// bundle is some items on their way through inOrder; ready is closed once they are worked on.
type bundle[T any] struct {
	items []T
	ready chan struct{}
}

// inOrder reads items in one goroutine, works on them in several, and hands them to take in the order they were read.
// size is how many go from one goroutine to the next at once. An item is take's only until that returns: where it lay, a later
// one will lie.
func inOrder[T any](ctx context.Context, workers, size int, read func(ctx context.Context, send func(T) bool) error, work func(*T), take func(*T) error) error {
	ctx, cancel := context.WithCancel(ctx)
	todo, order := make(chan *bundle[T]), make(chan *bundle[T], 2*workers)
	taken := make(chan []T, 2*workers) // room for later items
	ended := make(chan error, 1)
	defer func() {
		cancel()
		for range order { // let the reader end before its transaction does
		}
	}()
	for range workers {
		go func() {
			for j := range todo {
				for i := range j.items {
					work(&j.items[i])
				}
				close(j.ready)
			}
		}()
	}
	go func() {
		defer close(order)
		defer close(todo)
		ended <- readBundles(ctx, size, read, taken, order, todo)
	}()
	for j := range order {
		<-j.ready
		for i := range j.items {
			if err := take(&j.items[i]); err != nil {
				return err
			}
		}
		clear(j.items)
		select {
		case taken <- j.items[:0]:
		default:
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return <-ended
}

// pieces keeps copies of what a driver lends for one row, many in one piece. A piece is let go of with the last of its copies.
type pieces struct{ piece []byte }

// pieceOfRows is how large a piece is: the entries of a bundle have room in a few.
const pieceOfRows = 64 << 10

func (r *pieces) keep(lent []byte) []byte {
	if cap(r.piece)-len(r.piece) < len(lent) {
		r.piece = make([]byte, 0, max(len(lent), pieceOfRows))
	}
	from := len(r.piece)
	r.piece = append(r.piece, lent...)
	return r.piece[from:len(r.piece):len(r.piece)]
}

// readBundles reads items and sends them on in bundles, first to be taken in their order, then to be worked on.
func readBundles[T any](ctx context.Context, size int, read func(ctx context.Context, send func(T) bool) error, taken <-chan []T, order, todo chan<- *bundle[T]) error {
	room := func() []T {
		select {
		case items := <-taken:
			return items
		default:
			return nil
		}
	}
	items := room()
	flush := func() bool {
		j := &bundle[T]{items, make(chan struct{})}
		items = room()
		for _, to := range []chan<- *bundle[T]{order, todo} {
			select {
			case to <- j:
			case <-ctx.Done():
				close(j.ready)
				return false
			}
		}
		return true
	}
	err := read(ctx, func(item T) bool {
		if items = append(items, item); len(items) < size {
			return true
		}
		return flush()
	})
	if err == nil && len(items) > 0 && !flush() {
		err = ctx.Err()
	}
	return err
}
