package pose

// Crowd counts the people of a clip. Of a body behind a plate the detector finds a second one now and then, for one
// look: there are as many people as two looks show, one right after the other.
type Crowd struct {
	Most int
	last int
}

// Look takes in how many people the next picture shows.
func (c *Crowd) Look(people int) {
	c.Most = max(c.Most, min(people, max(c.last, 1)))
	c.last = people
}
