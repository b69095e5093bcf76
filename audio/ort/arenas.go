package ort

/*
#include <stdlib.h> // says whose library it is
#ifdef __GLIBC__
#include <malloc.h>

// spare makes glibc give memory back. Tensors are megabytes, each of another size:
// kept for reuse in an arena of each thread they took twice what is in use. It must
// be said before there are threads. It cost 3 % of the time of a debrief. What the
// environment asks of glibc goes first.
__attribute__((constructor)) static void spare(void) {
	if (!getenv("MALLOC_ARENA_MAX")) mallopt(M_ARENA_MAX, 2);
	if (!getenv("MALLOC_MMAP_THRESHOLD_")) mallopt(M_MMAP_THRESHOLD, 300 * 1000);
	if (!getenv("MALLOC_TRIM_THRESHOLD_")) mallopt(M_TRIM_THRESHOLD, 2000 * 1000);
}
#endif
*/
import "C"
