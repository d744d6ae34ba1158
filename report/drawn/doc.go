// Package drawn draws the athlete into a picture: the lines of the body, the angle at each joint as an arc that
// is the number printed beside it, and the labels. What was filled in where tracking failed is hollow and
// dashed.
//
// Knee, hip and ankle differ in colour (the palette of Okabe and Ito, 2008, which colour-blind readers can tell
// apart) and in marker.
package drawn
