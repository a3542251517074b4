#include "curve/warning.h"

static const struct warning_info warning_table[WARNING_COUNT] = {
#define WARNING_ROW(id, name, quantity, text) {name, quantity, text},
    WARNING_LIST(WARNING_ROW)
#undef WARNING_ROW
};

const struct warning_info *warning_info(enum warning_code code)
{
    return &warning_table[code];
}

void warnings_add(struct warnings *warnings, struct warning warning)
{
    for (size_t i = 0; i < warnings->n; i++) {
        if (warnings->w[i].code == warning.code) {
            warnings->w[i].count += warning.count;
            return;
        }
    }
    warnings->w[warnings->n++] = warning;
}
