/*
 * document_private: what the files that write and read the JSON document share.
 */
#ifndef PULLCURVE_RECORD_DOCUMENT_PRIVATE_H
#define PULLCURVE_RECORD_DOCUMENT_PRIVATE_H

#include "record/document.h"
#include "record/record_private.h"

#include <jansson.h>

#define DOCUMENT_FORMAT "pullcurve record"
enum { DOCUMENT_VERSION = 1 };

/* Numbers are written so that they read back exactly; objects keep the order of their fields. */
#define DOCUMENT_DUMP_FLAGS (JSON_COMPACT | JSON_REAL_PRECISION(17))

/* --- fields (document_field.c) ------------------------------------------------------------ */

enum field_kind {
    FIELD_TEXT,  /* char *; {"hex": "..."} where it is not UTF-8 */
    FIELD_KEY,   /* char[RECORD_KEY_MAX]; null where empty */
    FIELD_TIME,  /* char[RECORD_TIME_MAX] */
    FIELD_INT64, /* int64_t, 0 or more */
    FIELD_INT,   /* int */
    FIELD_REAL,  /* double; null where NAN */
    FIELD_BOOL,  /* bool */
    FIELD_WORD,  /* an enum: the word at its place in a list that ends with NULL */
};

/* One field of a struct: its name in JSON, its kind, its place. A table of these ends with a row
 * whose name is NULL and drives both ways. */
struct field {
    const char *name;
    enum field_kind kind;
    size_t offset;
    bool needed;              /* an empty key, an unknown number is a fault */
    const char *const *words; /* FIELD_WORD */
};

extern const struct field bow_fields[];               /* of struct record_bow */
extern const struct field calibration_fields[];       /* of struct record_calibration */
extern const struct field calibration_point_fields[]; /* of struct calibration_point */
extern const struct field capture_fields[];           /* of struct record_capture, but its number */
extern const struct field capture_end_fields[];       /* of struct record_capture, its end */

/* Put a value under its name, at the end of an array; taken over. Ends the program where there is
 * no memory: a document that lacks a field would be a loss. */
void document_put(json_t *object, const char *name, json_t *value);
void document_add(json_t *array, json_t *value);

/* Adds each field of *from to the object. */
void fields_to_json(json_t *object, const struct field *fields, const void *from);

/* Sets each field of *to; texts are allocated. A field that is missing or of another type is an
 * error STATUS_BAD_INPUT that names it. */
enum status fields_from_json(const json_t *object, const struct field *fields, void *to,
                             struct err *err);

/* A whole number within low..high. Errors: STATUS_BAD_INPUT. */
enum status json_take_int(const json_t *value, const char *name, int64_t low, int64_t high,
                          int64_t *taken, struct err *err);

/* The array at this name. Errors: STATUS_BAD_INPUT. */
enum status json_take_array(const json_t *object, const char *name, json_t **array,
                            struct err *err);

/* Bytes as lower-case hex digits, and back. */
json_t *json_hex(const void *bytes, size_t length);
bool json_take_hex(const json_t *value, struct buf *bytes);

/* --- chunks (document_chunk.c) ------------------------------------------------------------ */

/* A chunk with bytes of its own. */
struct owned_chunk {
    struct chunk chunk; /* chunk.bytes points into bytes */
    struct buf bytes;
};

/* A good chunk as columns of numbers, any other as its bytes with its check. */
json_t *chunk_to_json(const struct chunk *chunk);

/* The way back. Errors: STATUS_BAD_INPUT. Caller ends it with buf_clear(&owned->bytes), also on
 * failure. */
enum status chunk_from_json(const json_t *object, struct owned_chunk *owned, struct err *err);

/* --- entries (document_entry.c, record_fixture.c)
 * ----------------------------------------------------------- */

json_t *calibration_to_json(const struct record_calibration *calibration);
enum status calibration_from_json(const json_t *object, struct record_calibration *calibration,
                                  struct err *err);

/* Only what is not zero; the way back takes NULL and null as nothing known, and passes over names
 * that it does not know. Errors: STATUS_BAD_INPUT; *fixture is then not to be used. */
json_t *fixture_to_json(const struct fixture *fixture);
enum status fixture_from_json(const json_t *object, struct fixture *fixture, struct err *err);

/* Of a capture without its number and its chunks; "end" is null while it is open. */
json_t *capture_to_json(const struct record_capture *capture);
enum status capture_from_json(const json_t *object, struct record_capture *capture,
                              struct err *err);

/* --- the outer form (document_walk.c) ----------------------------------------------------- */

/* Called for each value of the outermost object (section NULL, name its name) or each element of
 * an array in it (section its name). Another status than STATUS_OK ends the walk. */
struct document_visitor {
    enum status (*visit)(void *context, const char *section, const char *name, const json_t *value,
                         struct err *err);
    void *context;
};

/* Walks through the text one element at a time. Messages begin with "NAME:LINE: ". */
enum status document_walk(const char *name, const struct buf *text,
                          const struct document_visitor *visitor, struct err *err);

/* --- merging (document_merge.c, document_merge_capture.c) ---------------------------------- */

enum merged { MERGED_SAME, MERGED_ADDED, MERGED_EXTENDED, MERGED_CONFLICT };

/* The names of the fields in which two objects differ, NULL where they are equal; releases both.
 * Freed by the caller. */
char *document_differences(json_t *ours, json_t *theirs);

/* The whole number that SQL gives in its first row, `absent` where there is none; ?1 is text, ?2
 * (if it is in the SQL) number. */
enum status document_query(const struct record *record, const char *sql, const char *text,
                           int64_t number, int64_t absent, int64_t *value, struct err *err);

/* Merges one capture within the caller's transaction. key is filled as soon as it is known;
 * *difference is set (and freed by the caller) for MERGED_CONFLICT. */
enum status document_merge_capture(struct record *record, const json_t *value,
                                   char key[RECORD_KEY_MAX], enum merged *merged, char **difference,
                                   struct err *err);

#endif
