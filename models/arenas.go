package models

/*
#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
static void fewArenas(void) { mallopt(M_ARENA_MAX, 2); }
#else
static void fewArenas(void) {}
#endif
*/
import "C"

// fewArenas lets all threads share two pools of native memory. By default each thread has its own, and what one gave
// back no other can use: pictures go from thread to thread, so that memory grew with the length of a clip.
func fewArenas() { C.fewArenas() }
