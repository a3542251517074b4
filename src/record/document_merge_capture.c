#include "base/mem.h"
#include "record/document_private.h"

#include <stdlib.h>
#include <string.h>

/* A capture as the document has it. */
struct incoming {
    struct record_capture capture;
    struct owned_chunk *chunks;
    size_t n;
};

static void clear_incoming(struct incoming *incoming)
{
    for (size_t i = 0; i < incoming->n; i++)
        buf_clear(&incoming->chunks[i].bytes);
    free(incoming->chunks);
    record_capture_clear(&incoming->capture);
    *incoming = (struct incoming){0};
}

static enum status read_incoming(const json_t *value, struct incoming *incoming, struct err *err)
{
    json_t *chunks;
    enum status status = capture_from_json(value, &incoming->capture, err);
    if (status == STATUS_OK)
        status = json_take_int(json_object_get(value, "number"), "number", 1, INT64_MAX,
                               &incoming->capture.number, err);
    if (status == STATUS_OK)
        status = json_take_array(value, "chunks", &chunks, err);
    if (status != STATUS_OK)
        return status;
    incoming->n = json_array_size(chunks);
    incoming->chunks = mem_calloc(incoming->n, sizeof *incoming->chunks);
    for (size_t i = 0; status == STATUS_OK && i < incoming->n; i++)
        status = chunk_from_json(json_array_get(chunks, i), &incoming->chunks[i], err);
    return status;
}

static enum status insert_chunks(const struct record *record, const struct incoming *incoming,
                                 size_t first, struct err *err)
{
    enum status status = STATUS_OK;
    for (size_t i = first; status == STATUS_OK && i < incoming->n; i++)
        status = chunk_insert(record, incoming->capture.key, &incoming->chunks[i].chunk, err);
    return status;
}

static enum status insert_end(const struct record *record, const struct incoming *incoming,
                              struct err *err)
{
    if (incoming->capture.state == CAPTURE_OPEN)
        return STATUS_OK;
    return record_capture_end_insert(record, &incoming->capture, err);
}

static enum status insert_whole(struct record *record, struct incoming *incoming, struct err *err)
{
    int64_t taken = 0;
    enum status status = document_query(record, "SELECT 1 FROM capture WHERE number = ?2", "",
                                        incoming->capture.number, 0, &taken, err);
    if (taken != 0)
        incoming->capture.number = 0; /* the next one */
    if (status == STATUS_OK)
        status = record_capture_insert(record, &incoming->capture, err);
    if (status == STATUS_OK)
        status = insert_chunks(record, incoming, 0, err);
    if (status == STATUS_OK)
        status = insert_end(record, incoming, err);
    return status;
}

static bool is_same_chunk(const struct chunk *ours, const struct chunk *theirs)
{
    return ours->number == theirs->number && ours->first_reading == theirs->first_reading &&
           ours->n_readings == theirs->n_readings && ours->format == theirs->format &&
           ours->crc32 == theirs->crc32 && ours->length == theirs->length &&
           (ours->length == 0 || memcmp(ours->bytes, theirs->bytes, ours->length) == 0);
}

/* How many chunks are here, and how many of them from the first on are the same there. */
static enum status compare_chunks(const struct record *record, const struct incoming *incoming,
                                  size_t *n_ours, size_t *n_common, struct err *err)
{
    *n_ours = *n_common = 0;
    sqlite3_stmt *statement;
    enum status status = chunk_select(record, incoming->capture.key, &statement, err);
    for (bool row = true; status == STATUS_OK; (*n_ours)++) {
        status = record_step(record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        struct chunk ours = chunk_column(statement);
        if (*n_common == *n_ours && *n_ours < incoming->n &&
            is_same_chunk(&ours, &incoming->chunks[*n_ours].chunk))
            (*n_common)++;
    }
    sqlite3_finalize(statement);
    return status;
}

/* What differs, NULL where both fit together; an end that only one of them has is no difference. */
static char *compare_captures(const struct record_capture *ours,
                              const struct record_capture *theirs)
{
    json_t *our_fields = capture_to_json(ours), *their_fields = capture_to_json(theirs);
    if (ours->state == CAPTURE_OPEN || theirs->state == CAPTURE_OPEN)
        json_object_del(our_fields, "end");
    return document_differences(our_fields, their_fields);
}

/* One of them may be the other at an earlier moment: then it is the beginning of the other, and is
 * open. */
static enum status merge_present(struct record *record, const struct record_capture *ours,
                                 const struct incoming *incoming, enum merged *merged,
                                 char **difference, struct err *err)
{
    size_t n_ours, n_common;
    enum status status = compare_chunks(record, incoming, &n_ours, &n_common, err);
    if (status != STATUS_OK)
        return status;
    bool ours_open = ours->state == CAPTURE_OPEN;
    bool theirs_open = incoming->capture.state == CAPTURE_OPEN;
    bool ours_is_beginning = n_common == n_ours && (ours_open || n_ours == incoming->n);
    bool theirs_is_beginning = n_common == incoming->n && (theirs_open || n_ours == incoming->n);
    *difference = compare_captures(ours, &incoming->capture);
    if (*difference == NULL && !ours_is_beginning && !theirs_is_beginning)
        *difference = mem_strdup("readings");
    if (*difference != NULL) {
        *merged = MERGED_CONFLICT;
    } else if (ours_is_beginning && (incoming->n > n_ours || (ours_open && !theirs_open))) {
        *merged = MERGED_EXTENDED;
        status = insert_chunks(record, incoming, n_ours, err);
        if (status == STATUS_OK)
            status = insert_end(record, incoming, err);
    } else {
        *merged = MERGED_SAME;
    }
    return status;
}

enum status document_merge_capture(struct record *record, const json_t *value,
                                   char key[RECORD_KEY_MAX], enum merged *merged, char **difference,
                                   struct err *err)
{
    struct incoming incoming = {0};
    struct record_capture ours = {0};
    int64_t is_here = 0;
    *merged = MERGED_ADDED;
    enum status status = read_incoming(value, &incoming, err);
    memcpy(key, incoming.capture.key, RECORD_KEY_MAX);
    if (status == STATUS_OK)
        status = document_query(record, "SELECT 1 FROM capture WHERE key = ?1", key, 0, 0, &is_here,
                                err);
    if (status == STATUS_OK && is_here == 0)
        status = insert_whole(record, &incoming, err);
    if (status == STATUS_OK && is_here != 0)
        status = record_capture_find(record, key, &ours, err);
    if (status == STATUS_OK && is_here != 0)
        status = merge_present(record, &ours, &incoming, merged, difference, err);
    record_capture_clear(&ours);
    clear_incoming(&incoming);
    return status;
}
