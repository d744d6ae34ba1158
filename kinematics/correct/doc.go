// Package correct carries a coach's word into a clip. A corrected point is put where he
// saw it ([CarryOut]), the frames beside it follow as far as the network's mistake lasted,
// and what is his and what the network's is kept apart, frame by frame and sample by
// sample, because a hand does not err as a network does. A rep that he changed has the
// times, the tempo and the place in the sums that he gave it ([ChangeReps]), and a floor
// that he drew tells the vertical ([Floor]).
package correct
