package gocv
