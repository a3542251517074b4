#include "verbs/suggest.h"

#include <string.h>

enum { NAME_MAX_LENGTH = 40, NEAR = 2 };

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Edit distance row by row (V. I. Levenshtein, 1966). Long names are no misspelt ones of ours. */
static size_t distance(const char *a, size_t a_length, const char *b)
{
    size_t row[NAME_MAX_LENGTH + 1], b_length = strlen(b);
    if (a_length > NAME_MAX_LENGTH || b_length > NAME_MAX_LENGTH)
        return NAME_MAX_LENGTH;
    for (size_t j = 0; j <= b_length; j++)
        row[j] = j;
    for (size_t i = 1; i <= a_length; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= b_length; j++) {
            size_t replaced = diagonal + (a[i - 1] != b[j - 1]);
            diagonal = row[j];
            row[j] = least(replaced, least(row[j], row[j - 1]) + 1);
        }
    }
    return row[b_length];
}

struct suggest suggest_start(const char *typed, size_t length)
{
    return (struct suggest){.typed = typed, .length = length, .distance = NEAR + 1};
}

void suggest_try(struct suggest *suggest, const char *name)
{
    size_t near = distance(suggest->typed, suggest->length, name);
    if (near < suggest->distance && near < strlen(name)) {
        suggest->best = name;
        suggest->distance = near;
    }
}
