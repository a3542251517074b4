/*
 * mem: memory that is there or ends the program.
 *
 * Every reading is in the record before more memory is asked for, so ending with a message
 * loses nothing, and half of all error paths go away. Sizes are checked for overflow.
 */
#ifndef PULLCURVE_BASE_MEM_H
#define PULLCURVE_BASE_MEM_H

#include <stddef.h>

/* count * size bytes, zeroed; never NULL (count or size 0 gives one byte). Caller frees with
 * free(). */
void *mem_calloc(size_t count, size_t size);

/* Resizes like realloc; new bytes are not set. Never NULL. */
void *mem_realloc(void *old, size_t count, size_t size);

/* A copy of text, freed by the caller with free(). */
char *mem_strdup(const char *text);

/* A copy of the first length bytes of text with a NUL behind, freed by the caller. */
char *mem_strndup(const char *text, size_t length);

/* Ends the program as the others do; for libraries that report lack of memory to their caller. */
_Noreturn void mem_exhausted(void);

/* Capacity for at least `needed` elements, grown by half: new capacity >= needed. */
size_t mem_grown(size_t capacity, size_t needed);

#endif
