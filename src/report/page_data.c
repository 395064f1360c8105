/* The tables of the page as JSON: for its script, and for the test that holds the script to the
 * planner. Arrays keep it small: a band is [from V, verdict, reason, wait s], an entry of a rest
 * [verdict, rest s, later rests longer by, limit broken, stop]. */
#include "report/page_parts.h"

#include "report/page_html.h"
#include "report/words.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

const char *pr_page_verdict_key(pr_field_verdict verdict)
{
    static const char *const keys[] = {"pull", "wait", "stop"};
    return keys[verdict];
}

const char *pr_page_moment_key(pr_field_moment moment)
{
    static const char *const keys[PR_FIELD_MOMENTS] = {"off", "pulling", "resting", "rested"};
    return keys[moment];
}

const char *pr_page_moment_words(pr_field_moment moment)
{
    static const char *const words[PR_FIELD_MOMENTS] = {
        "Engine off for hours, all off: battery posts", "In a pull: fuse box",
        "Resting, engine on: fuse box", "Rest is over, engine on: fuse box"};
    return words[moment];
}

static const char *reason_key(pr_field_reason reason)
{
    static const char *const keys[PR_FIELD_REASONS] = {
        [PR_FIELD_AS_PLANNED] = "as_planned",         [PR_FIELD_CHARGE_FIRST] = "charge_first",
        [PR_FIELD_TOO_EMPTY] = "too_empty",           [PR_FIELD_NO_RESTART] = "no_restart",
        [PR_FIELD_BELOW_LIMIT] = "below_limit",       [PR_FIELD_BELOW_PLAN] = "below_plan",
        [PR_FIELD_CHARGES_LITTLE] = "charges_little", [PR_FIELD_NOT_CHARGING] = "not_charging",
        [PR_FIELD_OVERCHARGING] = "overcharging",     [PR_FIELD_NOT_RESTED] = "not_rested",
        [PR_FIELD_ENGINE_ON] = "engine_on",           [PR_FIELD_NO_READING] = "no_reading",
    };
    return keys[reason];
}

const char *pr_page_reason_words(pr_field_moment moment, pr_field_reason reason)
{
    static const char *const as_planned[PR_FIELD_MOMENTS] = {
        [PR_FIELD_OFF] = "Enough charge for the plan.",
        [PR_FIELD_PULLING] = "As the plan expects: go on to the end of the planned pull.",
        [PR_FIELD_RESTING] = ("It charges as it should. The meter shows the alternator, not the "
                              "charge: rest by the clock."),
        [PR_FIELD_RESTED] = "It charges as it should, and the rest is over.",
    };
    if (reason == PR_FIELD_AS_PLANNED)
        return as_planned[moment];
    static const char *const words[PR_FIELD_REASONS] = {
        [PR_FIELD_CHARGE_FIRST] = "Enough to start the engine, not enough for the plan: let it run "
                                  "at the speed of the rests first.",
        [PR_FIELD_TOO_EMPTY] = "Too empty for this plan, even with the longest wait. Charge it or "
                               "get help, then plan again.",
        [PR_FIELD_NO_RESTART] = "Too empty: the starter may not turn the engine. If it runs, do "
                                "not switch it off.",
        [PR_FIELD_BELOW_LIMIT] = "Below what keeps the engine running. Stop winching now, leave "
                                 "the engine on, switch loads off.",
        [PR_FIELD_BELOW_PLAN] = "Lower than the plan expects. End this pull now and rest; if it "
                                "comes again, stop and look for the cause.",
        [PR_FIELD_CHARGES_LITTLE] = "It charges less than the plan counts on. Check engine speed, "
                                    "belt and joints, switch loads off; the rests are too short "
                                    "until this reads higher.",
        [PR_FIELD_NOT_CHARGING] = "This is how it reads when the alternator gives nothing. Do not "
                                  "pull: what you take does not come back.",
        [PR_FIELD_OVERCHARGING] = "More than the regulator sets: it overcharges. Do not go on; "
                                  "gas from the battery, no sparks.",
        [PR_FIELD_NOT_RESTED] = "More than any rested battery shows: it was charged lately. "
                                "Headlamps on for a minute, off, wait, read again.",
        [PR_FIELD_ENGINE_ON] = "No battery shows this by itself: the engine or a charger is on, "
                               "or the meter is wrong. Choose above where you read it, and read "
                               "again.",
        [PR_FIELD_NO_READING] = "That is no voltage of such a rig. Read again.",
    };
    return words[reason];
}

static json_t *small_array(pr_json *json, json_t *parent)
{
    return pr_json_array(json, parent, NULL);
}

static void rest_entry(pr_json *json, json_t *list, const pr_field_rest *rest)
{
    json_t *entry = small_array(json, list);
    pr_json_append_text(json, entry, pr_page_verdict_key(rest->verdict));
    pr_json_append_number(json, entry, rest->rest_s);
    pr_json_append_number(json, entry, rest->later_frac);
    pr_json_append_text(json, entry, pr_words_limit_key(rest->broke));
    pr_json_append_text(json, entry, pr_words_stop_key(rest->stop));
}

static void rows_part(pr_json *json, json_t *object, const pr_field_table *table)
{
    json_t *lengths = pr_json_array(json, object, "lengths_s");
    for (int l = 0; l < PR_FIELD_LENGTHS; l++)
        pr_json_append_number(json, lengths, table->length_s[l]);
    json_t *rows = pr_json_array(json, object, "rows");
    for (int k = 0; k < table->n_rows; k++) {
        json_t *row = pr_json_object(json, rows, NULL);
        pr_json_number(json, row, "pulled_s", table->row[k].pulled_s);
        pr_json_number(json, row, "low_V", table->row[k].low_V);
        json_t *levels = pr_json_array(json, row, "rest");
        for (int j = 0; j < PR_FIELD_LEVELS; j++) {
            json_t *level = small_array(json, levels);
            for (int l = 0; l < PR_FIELD_LENGTHS; l++)
                rest_entry(json, level, &table->row[k].rest[j][l]);
        }
    }
}

static void meter_part(pr_json *json, json_t *object, const pr_field_table *table)
{
    json_t *meter = pr_json_object(json, object, "meter");
    for (int m = 0; m < PR_FIELD_MOMENTS; m++) {
        json_t *bands = pr_json_array(json, meter, pr_page_moment_key((pr_field_moment)m));
        for (int i = 0; i < table->meter[m].n; i++) {
            const pr_field_band *b = &table->meter[m].band[i];
            json_t *band = small_array(json, bands);
            pr_json_append_number(json, band, b->from_V);
            pr_json_append_text(json, band, pr_page_verdict_key(b->verdict));
            pr_json_append_text(json, band, reason_key(b->reason));
            pr_json_append_number(json, band, b->wait_s);
        }
    }
}

static void words_part(pr_json *json, json_t *object)
{
    json_t *words = pr_json_object(json, object, "words");
    pr_json_text(json, words, "short_pull", PR_PAGE_SHORT_PULL_WORDS);
    json_t *reasons = pr_json_object(json, words, "reason");
    for (int i = PR_FIELD_AS_PLANNED + 1; i < PR_FIELD_REASONS; i++)
        pr_json_text(json, reasons, reason_key((pr_field_reason)i),
                     pr_page_reason_words(PR_FIELD_OFF, (pr_field_reason)i));
    json_t *as_planned = pr_json_object(json, words, "as_planned");
    for (int m = 0; m < PR_FIELD_MOMENTS; m++)
        pr_json_text(json, as_planned, pr_page_moment_key((pr_field_moment)m),
                     pr_page_reason_words((pr_field_moment)m, PR_FIELD_AS_PLANNED));
    json_t *limits = pr_json_object(json, words, "limit");
    for (int i = PR_LIMIT_NONE + 1; i < PR_LIMIT_COUNT; i++)
        pr_json_text(json, limits, pr_words_limit_key((pr_limit)i), pr_words_limit((pr_limit)i));
    json_t *stops = pr_json_object(json, words, "stop");
    for (int i = 0; i <= PR_STOP_FAILED; i++)
        pr_json_text(json, stops, pr_words_stop_key((pr_stop)i), pr_words_stop((pr_stop)i));
}

static void pulls_part(pr_json *json, json_t *object, const pr_page *page)
{
    const pr_plan *plan = pr_page_plan(page);
    json_t *pulls = pr_json_array(json, object, "pulls"); /* [pull s, rest s, set out, way] */
    for (size_t i = 0; i < plan->n_cycles; i++) {
        const pr_cycle *c = &plan->cycles[i];
        json_t *one = small_array(json, pulls);
        pr_json_append_number(json, one, c->pull_s);
        pr_json_append_number(json, one, c->rest_s);
        pr_json_append_number(json, one, c->rerig ? 1.0 : 0.0);
        pr_json_append_text(json, one,
                            pr_units_text(page->units, PR_QUANTITY_DISTANCE, c->travel_m).s);
    }
}

void pr_page_data(const pr_page *page, pr_json *json, json_t *object)
{
    const pr_field_table *table = page->table;
    const pr_plan *plan = pr_page_plan(page);
    pr_json_number(json, object, "pull_s", plan->pull_s);
    pr_json_number(json, object, "first_rest_s", plan->first_rest_s);
    pr_json_number(json, object, "total_s", plan->total_s);
    pr_json_number(json, object, "longest_s", table->longest_s);
    pr_json_number(json, object, "rerig_s", table->rerig_s);
    pr_json_count(json, object, "planned", (unsigned long)table->planned);
    pulls_part(json, object, page);
    rows_part(json, object, table);
    meter_part(json, object, table);
    words_part(json, object);
}

/* FNV-1a, 64 bits: another plan must not continue this one's timer. */
static uint64_t hash(const char *text)
{
    uint64_t h = 0xcbf29ce484222325u;
    for (const unsigned char *s = (const unsigned char *)text; *s != '\0'; s++)
        h = (h ^ *s) * 0x100000001b3u;
    return h;
}

pr_status pr_page_write_data(const pr_page *page, FILE *out)
{
    pr_json json = pr_json_begin("page");
    pr_page_data(page, &json, json.root);
    pr_json_text(&json, json.root, "file", page->report->scenario->path);
    char *text =
        json.failed
            ? NULL
            : json_dumps(json.root, JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(6));
    json_decref(json.root);
    if (text == NULL)
        return PR_ERR_NOMEM;
    fprintf(out, "<script type=\"application/json\" id=\"plan\" data-hash=\"%016" PRIx64 "\">",
            hash(text));
    pr_html_script_json(out, text);
    fputs("</script>\n", out);
    free(text);
    return PR_OK;
}

/* ---- answers by the planner */

static void sample_meter(pr_json *json, json_t *list, const pr_field_table *table,
                         pr_field_moment moment, double pulled_s, double V)
{
    const pr_field_band band = pr_field_read(table, moment, pulled_s, V);
    json_t *sample = pr_json_object(json, list, NULL);
    pr_json_text(json, sample, "moment", pr_page_moment_key(moment));
    pr_json_number(json, sample, "pulled_s", pulled_s);
    pr_json_number(json, sample, "V", V);
    pr_json_text(json, sample, "verdict", pr_page_verdict_key(band.verdict));
    pr_json_text(json, sample, "reason", reason_key(band.reason));
    pr_json_number(json, sample, "wait_s", band.wait_s);
}

static void sample_rest(pr_json *json, json_t *list, const pr_field_table *table, double pulled_s,
                        int level, double later_frac, double length_s)
{
    const pr_field_rest rest = pr_field_look(table, pulled_s, level, later_frac, length_s);
    json_t *sample = pr_json_object(json, list, NULL);
    pr_json_number(json, sample, "pulled_s", pulled_s);
    pr_json_count(json, sample, "level", (unsigned long)level);
    pr_json_number(json, sample, "length_s", length_s);
    pr_json_number(json, sample, "later_before_frac", later_frac);
    pr_json_text(json, sample, "verdict", pr_page_verdict_key(rest.verdict));
    pr_json_number(json, sample, "rest_s", rest.rest_s);
    pr_json_number(json, sample, "later_frac", rest.later_frac);
    pr_json_text(json, sample, "broke", pr_words_limit_key(rest.broke));
    pr_json_text(json, sample, "stop", pr_words_stop_key(rest.stop));
}

static void samples(pr_json *json, const pr_page *page)
{
    const pr_field_table *table = page->table;
    json_t *object = pr_json_object(json, json->root, "samples");
    json_t *meter = pr_json_array(json, object, "meter");
    for (int m = 0; m < PR_FIELD_MOMENTS; m++) {
        for (int i = 0; i <= 180; i++) /* tenths of a volt, and beyond what is one */
            sample_meter(json, meter, table, (pr_field_moment)m, 0.0, 0.1 * (double)i);
        for (int i = 0; i < table->meter[m].n; i++) { /* both sides of every bound */
            const double V = table->meter[m].band[i].from_V;
            sample_meter(json, meter, table, (pr_field_moment)m, 0.0, V);
            sample_meter(json, meter, table, (pr_field_moment)m, 0.0, V - 0.01);
        }
        sample_meter(json, meter, table, (pr_field_moment)m, 0.0, 41.0);
    }
    json_t *rests = pr_json_array(json, object, "rests");
    const double pull_s = table->length_s[table->planned];
    const double all_s = table->row[table->n_rows - 1].pulled_s + 2.0 * pull_s;
    for (double at_s = 0.0; at_s <= all_s; at_s += 0.5 * pull_s)
        for (int level = 0; level <= PR_FIELD_LEVELS; level++)
            for (double share = 0.2; share < 2.4; share += 0.2)
                sample_rest(json, rests, table, at_s, level, level == 3 ? 0.3 : 0.0,
                            round(share * pull_s));
}

pr_status pr_page_write_json(const pr_page *page, const pr_diag *diag, FILE *out)
{
    pr_json json = pr_json_begin("page");
    pr_json_flag(&json, json.root, "go", page->table != NULL);
    if (page->table != NULL) {
        pr_page_data(page, &json, pr_json_object(&json, json.root, "tables"));
        samples(&json, page);
    }
    if (diag != NULL)
        pr_json_messages(&json, json.root, "messages", diag);
    return pr_json_end(&json, out);
}
