#include "base/mem.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static _Noreturn void out_of_memory(size_t count, size_t size)
{
    fprintf(stderr,
            "pullcurve: out of memory (%zu x %zu bytes); what was measured is in the record\n",
            count, size);
    exit(70);
}

void *mem_calloc(size_t count, size_t size)
{
    void *memory = calloc(count > 0 ? count : 1, size > 0 ? size : 1);
    if (memory == NULL)
        out_of_memory(count, size);
    return memory;
}

void *mem_realloc(void *old, size_t count, size_t size)
{
    if (size != 0 && count > SIZE_MAX / size)
        out_of_memory(count, size);
    size_t bytes = count * size;
    void *memory = realloc(old, bytes > 0 ? bytes : 1);
    if (memory == NULL)
        out_of_memory(count, size);
    return memory;
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
