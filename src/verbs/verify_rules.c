#include "verbs/verify_rules.h"

#include "base/mem.h"
#include "verbs/figure_text.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#ifdef PULLCURVE_DATADIR
#define INSTALLED_RULES PULLCURVE_DATADIR "/rules"
#else
#define INSTALLED_RULES "/usr/local/share/pullcurve/rules"
#endif

/* folder/rules/name.ini where that can be read, else NULL. Freed by the caller. */
static char *rules_in(const char *folder, const char *below, const char *name)
{
    if (folder == NULL || folder[0] == '\0')
        return NULL;
    struct buf path = {0};
    buf_printf(&path, "%s%s/%s.ini", folder, below, name);
    char *found = access(buf_string(&path), R_OK) == 0 ? mem_strdup(buf_string(&path)) : NULL;
    buf_clear(&path);
    return found;
}

/* A path, or the bare name of a rule file of ours. */
static enum status find_rules(const char *name, char **path, struct err *err)
{
    *path = NULL;
    if (strchr(name, '/') != NULL || access(name, F_OK) == 0)
        *path = mem_strdup(name);
    if (*path == NULL)
        *path = rules_in(getenv("PULLCURVE_DATA"), "/rules", name);
    if (*path == NULL)
        *path = rules_in("fixtures", "/rules", name);
    if (*path == NULL)
        *path = rules_in(INSTALLED_RULES, "", name);
    if (*path != NULL)
        return STATUS_OK;
    return err_set(err, STATUS_NO_INPUT,
                   "no rules '%s': neither a file nor %s.ini in $PULLCURVE_DATA/rules, "
                   "fixtures/rules, " INSTALLED_RULES,
                   name, name);
}

/* A text that must be there and not be empty. */
static enum status need_text(struct ini *file, const char *key, const char **text, struct err *err)
{
    *text = ini_text(file, "rule", key);
    if (*text == NULL || (*text)[0] == '\0')
        return ini_fault(file, "rule", key, err, "is missing and needed");
    return STATUS_OK;
}

static int two_digits(const char *text)
{
    return 10 * (text[0] - '0') + (text[1] - '0');
}

/* Is it written YYYY-MM-DD, and a day of the calendar? */
static bool is_date(const char *text)
{
    static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    static const char shape[] = "dddd-dd-dd";
    if (strlen(text) != sizeof shape - 1)
        return false;
    for (size_t i = 0; i < sizeof shape - 1; i++)
        if (shape[i] == '-' ? text[i] != '-' : text[i] < '0' || text[i] > '9')
            return false;
    int year = 100 * two_digits(text) + two_digits(text + 2);
    int month = two_digits(text + 5), day = two_digits(text + 8);
    bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1] &&
           (month != 2 || day <= 28 || leap);
}

static enum status read_head(struct ini *file, struct verdict_rule *rule, struct err *err)
{
    enum status status = need_text(file, "name", &rule->name, err);
    if (status == STATUS_OK)
        status = need_text(file, "source", &rule->source, err);
    if (status == STATUS_OK)
        status = need_text(file, "date", &rule->date, err);
    if (status == STATUS_OK && !is_date(rule->date))
        return ini_fault(file, "rule", "date", err, "'%s' is not a date written like 2026-11-25",
                         rule->date);
    rule->status = ini_text(file, "rule", "status");
    return status;
}

static enum status read_limits(struct ini *file, size_t rule, struct spec *spec, struct err *err)
{
    size_t n = 0;
    for (int i = 0; i < FIGURE_COUNT; i++) {
        struct spec_limit limit = {.figure = (enum figure_id)i, .origin = SPEC_RULE, .rule = rule};
        const char *name = figure_info(limit.figure)->name;
        const char *text = ini_text(file, "limits", name);
        struct err own;
        if (text == NULL)
            continue;
        if (figure_text_range(text, limit.figure, &limit.tolerance, &own) != STATUS_OK)
            return ini_fault(file, "limits", name, err, "%s", own.text);
        spec_add(spec, &limit);
        n++;
    }
    return n > 0 ? STATUS_OK
                 : ini_fault(file, "limits", "(any)", err,
                             "no limit is here; write one like peak_force = :60 lbf");
}

static enum status read_rule(struct ini *file, size_t number, struct verdict_rule *rule,
                             struct spec *spec, struct err *err)
{
    enum status status = read_head(file, rule, err);
    if (status == STATUS_OK)
        status = read_limits(file, number, spec, err);
    if (status == STATUS_OK)
        status = ini_check_all_known(file, err);
    return status;
}

enum status rules_add(struct rules *rules, const char *name, struct spec *spec, struct err *err)
{
    char *path = NULL;
    struct ini *file = NULL;
    struct verdict_rule rule = {.file = name};
    size_t n_limits = spec->n;
    enum status status = find_rules(name, &path, err);
    if (status == STATUS_OK)
        status = ini_open(&file, path, err);
    if (status == STATUS_OK)
        status = read_rule(file, rules->n, &rule, spec, err);
    free(path);
    if (status != STATUS_OK) {
        spec->n = n_limits;
        ini_close(file);
        return status;
    }
    if (rules->n == rules->capacity) {
        rules->capacity = mem_grown(rules->capacity, rules->n + 1);
        rules->rules = mem_realloc(rules->rules, rules->capacity, sizeof *rules->rules);
        rules->files = mem_realloc(rules->files, rules->capacity, sizeof(struct ini *));
    }
    rules->rules[rules->n] = rule;
    rules->files[rules->n++] = file;
    return STATUS_OK;
}

void rules_clear(struct rules *rules)
{
    for (size_t i = 0; i < rules->n; i++)
        ini_close(rules->files[i]);
    free(rules->files);
    free(rules->rules);
    *rules = (struct rules){0};
}
