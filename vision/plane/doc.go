// Package plane is about places in a picture and the maps from one picture to another, in pure Go.
//
// Places are in pixels, x to the right and y down; the centre of the top-left pixel is (0.5, 0.5). A place that is not
// known is NaN. Angles are positive clockwise as seen on the screen.
package plane
