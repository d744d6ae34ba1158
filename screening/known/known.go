// Package known tells whether values of any type hold a number, takes the numbers out of them, and writes what
// documents hold by name without the arm where nothing is known of it. A missing number is NaN.
package known

import (
	"math"
	"reflect"
)

// In says whether what a pointer leads to holds a number that is known.
func In(of any) bool { return in(reflect.ValueOf(of)) }

func in(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64:
		return !math.IsNaN(v.Float())
	case reflect.Pointer:
		return !v.IsNil() && (v.Elem().Kind() == reflect.String || in(v.Elem()))
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if in(v.Index(i)) {
				return true
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if in(v.Field(i)) {
				return true
			}
		}
	}
	return false
}

// Forget makes every number of what a pointer leads to unknown.
func Forget(of any) { forget(reflect.ValueOf(of).Elem()) }

func forget(v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(math.NaN())
	case reflect.Array:
		for i := range v.Len() {
			forget(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			forget(v.Field(i))
		}
	}
}
