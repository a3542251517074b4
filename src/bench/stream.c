#include "bench/stream.h"

#include <assert.h>
#include <math.h>
#include <string.h>

/* Half of the sequence numbers and of the clock's range: a step of more is a step back. */
enum { SEQUENCE_HALF = 0x8000 };
#define CLOCK_HALF 0x80000000U

/* How far the device clock may stand off from what the step of the sequence number says. */
#define STEP_SLACK_US 100000.0
#define STEP_FACTOR 2.0

/* A controller may pause: then its clock and the host's must agree to this. */
#define PAUSE_SLACK_US 500000.0
#define PAUSE_SHARE 0.25

/* While the step is not known, a longer step of the clock, or more lines, are not believed. */
#define FIRST_STEP_MOST_US 5e6
#define FIRST_LINES_MOST 100

/* The estimate of the step follows slowly, so that one odd line doesn't move it. */
#define STEP_GAIN 0.0625

void stream_init(struct stream *stream, const struct stream_settings *settings)
{
    assert(settings->force.low < settings->force.high);
    assert(settings->travel.low < settings->travel.high);
    *stream = (struct stream){.settings = *settings, .partial = true};
    if (settings->rate_hz > 0)
        stream->step_us = 1e6 / settings->rate_hz;
}

static unsigned sequence_step(const struct wire_line *from, const struct wire_line *to)
{
    return (uint16_t)(to->sequence - from->sequence);
}

static uint32_t clock_step(const struct wire_line *from, const struct wire_line *to)
{
    return to->device_us - from->device_us;
}

/* Does `to` stand where a later line of the same run of the controller would? host_us is the
 * host's time between the two. */
static bool follows(const struct stream *stream, const struct wire_line *from,
                    const struct wire_line *to, double host_us)
{
    unsigned lines = sequence_step(from, to);
    uint32_t clock = clock_step(from, to);
    if (lines == 0 || lines >= SEQUENCE_HALF || clock >= CLOCK_HALF)
        return false;
    double clock_us = (double)clock;
    if (stream->step_us <= 0)
        return lines <= FIRST_LINES_MOST && clock_us / lines <= FIRST_STEP_MOST_US;
    double expected_us = lines * stream->step_us;
    if (clock_us <= STEP_FACTOR * expected_us + STEP_SLACK_US &&
        clock_us >= expected_us / STEP_FACTOR - STEP_SLACK_US)
        return true;
    return lines == 1 && fabs(clock_us - host_us) <= PAUSE_SLACK_US + PAUSE_SHARE * host_us;
}

static uint32_t saturation(const struct stream_settings *settings, const struct wire_line *line)
{
    uint32_t flags = 0;
    if (line->force_count <= settings->force.low || line->force_count >= settings->force.high)
        flags |= RAW_FORCE_SATURATED;
    if (line->travel_count <= settings->travel.low || line->travel_count >= settings->travel.high)
        flags |= RAW_TRAVEL_SATURATED;
    return flags;
}

/* Makes the reading of a line that was found good; its place in the run is `reading` so far. */
static void accept(struct stream *stream, const struct wire_line *line, struct raw_reading *reading)
{
    reading->force_count = line->force_count;
    reading->travel_count = line->travel_count;
    reading->flags |= RAW_HAS_FORCE | RAW_HAS_TRAVEL | RAW_HAS_DEVICE_TIME | RAW_HAS_SEQUENCE |
                      saturation(&stream->settings, line);
    if (reading->flags & (RAW_FORCE_SATURATED | RAW_TRAVEL_SATURATED))
        stream->counts.n_saturated++;
    stream->counts.n_readings++;
    stream->last = *line;
    stream->last_reading = *reading;
    stream->has_last = true;
    stream->doubtful = false;
    stream->cut = false;
}

/* The next line of the same run: numbers and clock go on, missing lines are counted. */
static void accept_following(struct stream *stream, const struct wire_line *line,
                             struct raw_reading *reading)
{
    unsigned lines = sequence_step(&stream->last, line);
    uint32_t clock = clock_step(&stream->last, line);
    reading->sequence = stream->last_reading.sequence + lines;
    reading->device_us = stream->last_reading.device_us + clock;
    reading->flags = lines > 1 || stream->cut ? RAW_AFTER_GAP : 0;
    stream->counts.n_lost += lines - 1;
    if (lines == 1 && !stream->cut) {
        double step_us = (double)clock;
        stream->step_us += stream->step_us > 0 ? STEP_GAIN * (step_us - stream->step_us) : step_us;
    }
    accept(stream, line, reading);
}

/* The first line of a new run: its clock is carried on by the host's. */
static void accept_anew(struct stream *stream, const struct wire_line *line,
                        struct raw_reading *reading)
{
    int64_t host_us = reading->arrival_us - stream->last_reading.arrival_us;
    reading->sequence = stream->last_reading.sequence + 1;
    reading->device_us = stream->last_reading.device_us + (host_us > 1 ? host_us : 1);
    reading->flags = RAW_AFTER_GAP;
    stream->n_restarts++;
    accept(stream, line, reading);
}

/* Puts a good line in its place. false where it is not used. */
static bool place(struct stream *stream, const struct wire_line *line, int64_t arrival_us,
                  struct raw_reading *reading)
{
    *reading = (struct raw_reading){.arrival_us = arrival_us};
    if (!stream->has_last) {
        reading->sequence = line->sequence;
        reading->device_us = line->device_us;
        accept(stream, line, reading);
        return true;
    }
    double host_us = (double)(arrival_us - stream->last_reading.arrival_us);
    if (follows(stream, &stream->last, line, host_us)) {
        accept_following(stream, line, reading);
        return true;
    }
    bool anew = stream->cut || (stream->doubtful && follows(stream, &stream->suspect, line, 0));
    if (anew) {
        accept_anew(stream, line, reading);
        return true;
    }
    stream->counts.n_out_of_order++;
    stream->suspect = *line;
    stream->doubtful = true;
    return false;
}

/* The last '$' of text[1..length) in front of which stands garbage, NULL where there is none. */
static const char *later_start(const char *text, size_t length)
{
    for (size_t i = length; i-- > 1;)
        if (text[i] == '$')
            return text + i;
    return NULL;
}

/* Decodes one line. A good line behind garbage (its line end was garbled) is used too. */
static bool take_line(struct stream *stream, const char *text, size_t length, int64_t arrival_us,
                      struct raw_reading *reading)
{
    struct wire_line decoded;
    enum wire_result result = wire_decode(text, length, &decoded);
    bool partial = stream->partial;
    if (length > 0)
        stream->partial = false;
    if (result == WIRE_REMARK)
        return false;
    if (result == WIRE_READING)
        return place(stream, &decoded, arrival_us, reading);
    if (!partial) {
        if (result == WIRE_BAD_CHECKSUM)
            stream->counts.n_bad_checksum++;
        else
            stream->counts.n_malformed++;
    }
    const char *later = later_start(text, length);
    if (later == NULL ||
        wire_decode(later, length - (size_t)(later - text), &decoded) != WIRE_READING)
        return false;
    return place(stream, &decoded, arrival_us, reading);
}

static void count_long_lines(struct stream *stream)
{
    int64_t n_long = line_n_long(&stream->line);
    stream->counts.n_malformed += n_long - stream->n_long_seen;
    if (n_long > stream->n_long_seen)
        stream->partial = false;
    stream->n_long_seen = n_long;
}

size_t stream_feed(struct stream *stream, const void *bytes, size_t n, int64_t arrival_us,
                   struct raw_reading *reading, bool *made)
{
    const unsigned char *at = bytes;
    size_t used = 0;
    *made = false;
    while (used < n && !*made) {
        const char *text;
        size_t length;
        used += line_feed(&stream->line, at + used, n - used, &text, &length);
        count_long_lines(stream);
        if (text != NULL)
            *made = take_line(stream, text, length, arrival_us, reading);
    }
    stream->n_bytes += (int64_t)used;
    return used;
}

void stream_cut(struct stream *stream)
{
    line_cut(&stream->line);
    stream->partial = true;
    stream->cut = true;
    stream->doubtful = false;
}
