#include "base/mem.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

static _Noreturn void out_of_memory(size_t count, size_t size)
{
    fprintf(stderr,
            "pullcurve: out of memory (%zu x %zu bytes); what was measured is in the record\n",
            count, size);
    exit(70);
}

enum { HUGE_PAGE = 2 << 20, LARGE = 2 * HUGE_PAGE };

/* Large blocks are files and long curves that are about to be filled from end to end: asking for
 * huge pages saves thousands of page faults, which cost more than reading the numbers does. */
static void *prefer_huge_pages(void *memory, size_t bytes)
{
#ifdef MADV_HUGEPAGE
    if (memory != NULL && bytes >= LARGE) {
        size_t to_edge = (HUGE_PAGE - (uintptr_t)memory % HUGE_PAGE) % HUGE_PAGE;
        (void)madvise((char *)memory + to_edge, (bytes - to_edge) / HUGE_PAGE * HUGE_PAGE,
                      MADV_HUGEPAGE);
    }
#endif
    return memory;
}

/* A new block; a large one begins and ends where huge pages do. */
static void *new_block(size_t bytes)
{
    if (bytes < LARGE || bytes > SIZE_MAX - HUGE_PAGE)
        return malloc(bytes > 0 ? bytes : 1);
    return aligned_alloc(HUGE_PAGE, (bytes + HUGE_PAGE - 1) / HUGE_PAGE * HUGE_PAGE);
}

void *mem_calloc(size_t count, size_t size)
{
    void *memory = calloc(count > 0 ? count : 1, size > 0 ? size : 1);
    if (memory == NULL)
        out_of_memory(count, size);
    return prefer_huge_pages(memory, count * size);
}

void *mem_realloc(void *old, size_t count, size_t size)
{
    if (size != 0 && count > SIZE_MAX / size)
        out_of_memory(count, size);
    size_t bytes = count * size;
    void *memory = old == NULL ? new_block(bytes) : realloc(old, bytes > 0 ? bytes : 1);
    if (memory == NULL)
        out_of_memory(count, size);
    return prefer_huge_pages(memory, bytes);
}

char *mem_strndup(const char *text, size_t length)
{
    if (length == SIZE_MAX)
        out_of_memory(length, 1);
    char *copy = mem_calloc(length + 1, 1);
    memcpy(copy, text, length);
    return copy;
}

char *mem_strdup(const char *text)
{
    return mem_strndup(text, strlen(text));
}

_Noreturn void mem_exhausted(void)
{
    out_of_memory(1, 1);
}

size_t mem_grown(size_t capacity, size_t needed)
{
    size_t grown = capacity < 16 ? 16 : capacity;
    while (grown < needed) {
        if (grown > SIZE_MAX / 3 * 2)
            return needed;
        grown += grown / 2;
    }
    return grown;
}
