#include "base/mem.h"
#include "record/document_private.h"

#include <stdlib.h>

/* The document as it grows. */
struct writer {
    struct record *record;
    const struct document_sink *sink;
    const char *capture_key; /* NULL for the whole record */
    struct buf piece;        /* handed on when it is large enough */
    bool first;              /* of its list */
};

enum { PIECE_BYTES = 256 * 1024 };

static enum status hand_on(struct writer *writer, size_t from, struct err *err)
{
    if (writer->piece.length < from)
        return STATUS_OK;
    enum status status = writer->sink->write(writer->sink->context, &writer->piece, err);
    writer->piece.length = 0;
    return status;
}

static int add_bytes(const char *bytes, size_t length, void *out)
{
    buf_add(out, bytes, length);
    return 0;
}

static void add_json(struct buf *out, const json_t *value)
{
    if (json_dump_callback(value, add_bytes, out, DOCUMENT_DUMP_FLAGS) != 0)
        mem_exhausted();
}

/* Each element stands on a line of its own, so that messages can point at it. */
static void begin_element(struct writer *writer)
{
    buf_text(&writer->piece, writer->first ? "\n" : ",\n");
    writer->first = false;
}

static enum status add_element(struct writer *writer, json_t *element, struct err *err)
{
    begin_element(writer);
    add_json(&writer->piece, element);
    json_decref(element);
    return hand_on(writer, PIECE_BYTES, err);
}

static enum status write_bow(struct writer *writer, const char *key, struct err *err)
{
    struct record_bow *bows;
    size_t n;
    enum status status = record_bow_statements(writer->record, key, &bows, &n, err);
    if (status != STATUS_OK)
        return status;
    json_t *object = json_object(), *statements = json_array();
    document_put(object, "key", json_string(key));
    for (size_t i = n; i > 0; i--) { /* the oldest first */
        json_t *statement = json_object();
        fields_to_json(statement, bow_fields, &bows[i - 1]);
        document_add(statements, statement);
        record_bow_clear(&bows[i - 1]);
    }
    free(bows);
    document_put(object, "statements", statements);
    return add_element(writer, object, err);
}

static enum status write_calibration(struct writer *writer, const char *key, struct err *err)
{
    struct record_calibration calibration;
    enum status status = record_calibration_get(writer->record, key, &calibration, err);
    if (status == STATUS_OK)
        status = add_element(writer, calibration_to_json(&calibration), err);
    record_calibration_clear(&calibration);
    return status;
}

/* Chunk by chunk: a capture of hours is never in memory as a whole. */
static enum status write_chunks(struct writer *writer, const char *capture_key, struct err *err)
{
    sqlite3_stmt *statement;
    enum status status = chunk_select(writer->record, capture_key, &statement, err);
    for (bool row = true, first = true; status == STATUS_OK; first = false) {
        status = record_step(writer->record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        struct chunk chunk = chunk_column(statement);
        json_t *object = chunk_to_json(&chunk);
        buf_text(&writer->piece, first ? "" : ",");
        add_json(&writer->piece, object);
        json_decref(object);
        status = hand_on(writer, PIECE_BYTES, err);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum status write_capture(struct writer *writer, const char *key, struct err *err)
{
    struct record_capture capture;
    enum status status = record_capture_find(writer->record, key, &capture, err);
    if (status == STATUS_OK) {
        json_t *object = capture_to_json(&capture);
        document_put(object, "number", json_integer(capture.number));
        begin_element(writer);
        add_json(&writer->piece, object);
        json_decref(object);
        writer->piece.length--; /* the closing brace comes behind the chunks */
        buf_text(&writer->piece, ",\"chunks\":[");
        status = write_chunks(writer, key, err);
        buf_text(&writer->piece, "]}");
    }
    record_capture_clear(&capture);
    return status;
}

/* One list of the document: all entries whose keys the SQL gives; ?1 is the capture asked for. */
static enum status write_list(struct writer *writer, const char *name, const char *keys_sql,
                              enum status (*write_one)(struct writer *, const char *key,
                                                       struct err *),
                              struct err *err)
{
    buf_printf(&writer->piece, ",\n\"%s\": [", name);
    writer->first = true;
    sqlite3_stmt *statement;
    enum status status = record_prepare(writer->record, keys_sql, &statement, err);
    if (status == STATUS_OK && writer->capture_key != NULL)
        record_bind_text(statement, 1, writer->capture_key);
    while (status == STATUS_OK) {
        bool row;
        char key[RECORD_KEY_MAX];
        status = record_step(writer->record, statement, &row, err);
        if (status != STATUS_OK || !row)
            break;
        record_column_field(statement, 0, key, sizeof key);
        status = write_one(writer, key, err);
    }
    sqlite3_finalize(statement);
    buf_text(&writer->piece, writer->first ? "]" : "\n]");
    return status;
}

/* Which entries go into the lists of the document. */
struct selection {
    const char *bows, *calibrations, *captures; /* SQL that gives their keys */
};

static const struct selection whole_record = {
    "SELECT key FROM bow ORDER BY key",
    "SELECT key FROM calibration ORDER BY rowid",
    "SELECT key FROM capture ORDER BY number",
};

static const struct selection one_capture = {
    "SELECT bow_key FROM capture WHERE key = ?1 AND bow_key IS NOT NULL",
    "SELECT key FROM calibration WHERE key IN"
    " (SELECT force_calibration_key FROM capture WHERE key = ?1 UNION ALL"
    "  SELECT travel_calibration_key FROM capture WHERE key = ?1) ORDER BY rowid",
    "SELECT key FROM capture WHERE key = ?1",
};

static enum status write_lists(struct writer *writer, const struct selection *selection,
                               struct err *err)
{
    buf_printf(&writer->piece, "{\n\"format\": \"%s\",\n\"version\": %d", DOCUMENT_FORMAT,
               DOCUMENT_VERSION);
    enum status status = write_list(writer, "bows", selection->bows, write_bow, err);
    if (status == STATUS_OK)
        status =
            write_list(writer, "calibrations", selection->calibrations, write_calibration, err);
    if (status == STATUS_OK)
        status = write_list(writer, "captures", selection->captures, write_capture, err);
    buf_text(&writer->piece, "\n}\n");
    return status == STATUS_OK ? hand_on(writer, 0, err) : status;
}

static enum status write_document(struct writer *writer, const struct selection *selection,
                                  struct err *err)
{
    /* one transaction: what is committed meanwhile is not seen, so that all entries fit together */
    enum status status = record_exec(writer->record, "BEGIN", err);
    if (status == STATUS_OK)
        status = record_transaction_end(writer->record, write_lists(writer, selection, err), err);
    buf_clear(&writer->piece);
    return status;
}

enum status document_write(struct record *record, const struct document_sink *sink, struct err *err)
{
    struct writer writer = {.record = record, .sink = sink};
    return write_document(&writer, &whole_record, err);
}

enum status document_write_capture(struct record *record, const char *capture_key,
                                   const struct document_sink *sink, struct err *err)
{
    struct writer writer = {.record = record, .sink = sink, .capture_key = capture_key};
    return write_document(&writer, &one_capture, err);
}
