package store

import "time"

// NameWithin is how long a file that was put may wait for its name before a deletion
// takes it along: the files of a long clip's result are put one after another.
const NameWithin = 15 * time.Minute

// puttings are how often one content was put by this process, and when last: those that
// wait for their name, and those whose naming failed.
type puttings struct {
	waiting, failed int
	last            time.Time
}

// set keeps what is known of a file; nothing is not kept. The mutex must be held.
func (s *Store) set(sum string, n puttings) {
	if n.waiting == 0 && n.failed == 0 {
		delete(s.puts, sum)
	} else {
		s.puts[sum] = n
	}
}

// Await says that a file was put and is about to be named.
func (s *Store) Await(sum string) {
	now := s.now()
	s.mu.Lock()
	defer s.mu.Unlock()
	n := s.puts[sum]
	n.waiting++
	n.last = now
	s.puts[sum] = n
}

// Named ends the wait of a file that got its name, or did not because of err.
func (s *Store) Named(sum string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := s.puts[sum]
	switch {
	case n.waiting == 0:
		return
	case err != nil:
		n.failed++
	default:
		n.failed = 0 // the file has a name, whoever gave it
	}
	n.waiting--
	s.set(sum, n)
}

// GiveUp ends one put of a file whose naming failed or was given up, and says whether
// another waits for the same file.
func (s *Store) GiveUp(sum string) (others bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := s.puts[sum]
	switch {
	case n.failed > 0:
		n.failed--
	case n.waiting > 0:
		n.waiting--
	}
	s.set(sum, n)
	return n.waiting > 0
}

// gone forgets the failed namings of files that are no longer there.
func (s *Store) gone(sums []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, sum := range sums {
		n := s.puts[sum]
		n.failed = 0
		s.set(sum, n)
	}
}

// Failed says that nobody will name a file, as far as this process knows.
func (s *Store) Failed(sum string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := s.puts[sum]
	return n.failed > 0 && n.waiting == 0
}

// Awaited says that somebody has put a file, not long before now, and is about to name it.
func (s *Store) Awaited(sum string, now time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := s.puts[sum]
	return n.waiting > 0 && now.Sub(n.last) <= NameWithin
}
