// Package foot measures the pitch of the near foot by the shoe's own picture: the rear of the shoe, as it is seen while
// the athlete stands, is laid over every other frame, and how far it turned is the pitch, in degrees, negative while
// the heel is up.
package foot
