#include "verbs/calibrate_page.h"

#include "base/mem.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

enum calibration_references calibrate_references(const struct record_calibration *stored)
{
    return stored->references_independent ? CALIBRATION_REFERENCES_INDEPENDENT
                                          : CALIBRATION_REFERENCES_COMMON;
}

static void set_today(char text[RECORD_TIME_MAX])
{
    time_t now = time(NULL);
    struct tm utc;
    text[0] = '\0';
    if (gmtime_r(&now, &utc) != NULL)
        (void)strftime(text, RECORD_TIME_MAX, "%Y-%m-%dT%H:%M:%SZ", &utc);
}

static enum status fit(const struct record_calibration *stored, struct calibration *calibration,
                       struct err *err)
{
    return calibration_fit_references(stored->points, stored->n_points, stored->quantity,
                                      stored->n_terms, calibrate_references(stored), calibration,
                                      err);
}

static void show(struct calibrate_page *page, const struct record_calibration *stored,
                 bool has_previous, const struct calibrate_page_settings *settings)
{
    size_t n_outliers = page->shown.n_outliers;
    page->shown = (struct calibration_record){
        .key = stored->key,
        .bench = stored->bench,
        .made_at = stored->made_at[0] != '\0' ? stored->made_at : page->today,
        .note = stored->note != NULL ? stored->note : "",
        .today = page->today,
        .months = settings->months,
        .units = settings->units,
        .calibration = &page->calibration,
        .references = calibrate_references(stored),
        .points = stored->points,
        .n_points = stored->n_points,
        .choice = &page->choice,
        .outliers = page->outliers,
        .n_outliers = n_outliers,
        .summary = &page->summary,
        .previous = has_previous ? &page->previous : NULL,
        .previous_made_at = page->previous_made_at,
        .place_unknown = settings->place_unknown,
    };
}

enum status calibrate_page_fill(struct calibrate_page *page,
                                const struct record_calibration *stored,
                                const struct record_calibration *before,
                                const struct calibrate_page_settings *settings, struct err *err)
{
    *page = (struct calibrate_page){0};
    set_today(page->today);
    enum status status = fit(stored, &page->calibration, err);
    if (status == STATUS_OK)
        status = calibration_choose(stored->points, stored->n_points, stored->quantity,
                                    calibrate_references(stored), &page->choice, err);
    if (status != STATUS_OK)
        return status;
    page->outliers = mem_calloc(stored->n_points, sizeof *page->outliers);
    status =
        calibration_find_outliers(stored->points, stored->n_points, stored->quantity,
                                  stored->n_terms, page->outliers, &page->shown.n_outliers, err);
    if (status != STATUS_OK) {
        calibrate_page_clear(page);
        return status;
    }
    calibration_summarise(&page->calibration, stored->points, stored->n_points, settings->creep,
                          &page->summary);
    bool has_previous = before != NULL && fit(before, &page->previous, NULL) == STATUS_OK;
    if (has_previous)
        memcpy(page->previous_made_at, before->made_at, sizeof page->previous_made_at);
    show(page, stored, has_previous, settings);
    return STATUS_OK;
}

void calibrate_page_clear(struct calibrate_page *page)
{
    calibration_summary_clear(&page->summary);
    free(page->outliers);
    *page = (struct calibrate_page){0};
}
