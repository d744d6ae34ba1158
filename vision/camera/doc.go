// Package camera reads from what lies behind the athlete how the camera moved and where up is ([Background], [Glance]),
// and from pictures as a whole where a clip was cut and what it shows again ([Shots]).
//
// Frames pass through Shots and Background on their way from the decoder to the tracker, as [Placed]. People move by
// themselves: what they cover ([Figure]) says nothing of the camera.
package camera
