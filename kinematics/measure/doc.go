// Package measure says what the whole body did, in numbers with their uncertainty, from
// its smooth [joints.Motion] and the times of its reps:
//
//	CentreOfMassOf  the centre of mass, from a table of segment masses
//	FindScale     how large a pixel is, by height, a mark, or the fall in a jump
//	SupportPoint  where the weight acts along the foot
//	FeetOnFloor   how far heel and toe rise and the foot slides
//	Jumps         how high, by the flight's time and by the mass centre's rise
//	Landings      how soft, how far from the bottom of the slow rep, and how soon still
//	TimeToFeet    how long from lying or kneeling to standing
//	RiseOf        how long from the floor onto the feet, and until still, in a rep, and in how many steps
//	DropOf        from how high a rep drops, how soon after it is still, and after how many steps
//
// Every stage is a function of what other stages found, and of nothing else. Lengths are
// pixels of the upright picture or leg lengths (thigh plus shank), and metres where the
// scale is known.
package measure
