package models

/*
#include <stdlib.h>
#ifdef __GLIBC__
#include <malloc.h>
static void fewArenas(void) { mallopt(M_ARENA_MAX, 2); }
static void giveBack(void) { malloc_trim(0); }
#else
static void fewArenas(void) {}
static void giveBack(void) {}
#endif
*/
import "C"

// fewArenas lets all threads share two pools of native memory. By default each thread has its own, and what one gave
// back no other can use: pictures go from thread to thread, so that memory grew with the length of a clip.
func fewArenas() { C.fewArenas() }

// GiveBack hands native memory that nothing holds any more back to the system: the library keeps what networks and
// pictures took, and what comes after them would take as much again beside it.
func GiveBack() { C.giveBack() }
