#include "curve/figures.h"

#include <string.h>

static const struct figure_info figure_table[FIGURE_COUNT] = {
#define FIGURE_ROW(id, name, trade, si, label) {name, trade, si, label},
    FIGURE_LIST(FIGURE_ROW)
#undef FIGURE_ROW
};

const struct figure_info *figure_info(enum figure_id id)
{
    return &figure_table[id];
}

bool figure_find(const char *name, enum figure_id *id)
{
    for (int i = 0; i < FIGURE_COUNT; i++) {
        if (strcmp(figure_table[i].name, name) == 0) {
            *id = (enum figure_id)i;
            return true;
        }
    }
    return false;
}
