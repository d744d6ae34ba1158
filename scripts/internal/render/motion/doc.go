// Package motion moves a skeleton: joint curves over time ([Motion]) become poses with the feet planted and the mass
// over them ([Performer]), and poses become joints and turned segments ([Figure]). Angles are in degrees, times in
// seconds.
package motion
