package store

import "context"

// inOrder reads items in one goroutine, works on them in several, and hands them to take in the order they were read.
// size is how many go from one goroutine to the next at once.
func inOrder[T any](ctx context.Context, workers, size int, read func(ctx context.Context, send func(T) bool) error, work func(*T), take func(*T) error) error {
	ctx, cancel := context.WithCancel(ctx)
	type job struct {
		items []T
		ready chan struct{}
	}
	todo, order := make(chan *job), make(chan *job, 2*workers)
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
		var items []T
		flush := func() bool {
			j := &job{items, make(chan struct{})}
			items = nil
			for _, to := range []chan *job{order, todo} {
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
		ended <- err
	}()
	for j := range order {
		<-j.ready
		for i := range j.items {
			if err := take(&j.items[i]); err != nil {
				return err
			}
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return <-ended
}
