/* Any text as a quantity in one of the units that the schema uses, as a slope and as a gauge: a
 * finite number, or a message. */
#include "fuzz.h"

#include "reader/quantity.h"

#include <math.h>
#include <string.h>

/* as the schema tables name them */
static const char *const units[] = {NULL,   "A", "Ah", "K",   "K/min", "V",    "W",   "W/K", "deg",
                                    "degC", "h", "kg", "m",   "m/min", "mV/K", "min", "mm",  "mohm",
                                    "rpm",  "s", "N",  "K/s", "V/K",   "m/s",  "ohm", "rad"};

static pr_quantities *quantities;

static void check(pr_status status, double value, const char *message)
{
    FUZZ_CHECK(status == PR_OK || status == PR_ERR_INPUT, "%s", pr_status_text(status));
    if (status == PR_OK)
        FUZZ_CHECK(isfinite(value), "%g accepted", value);
    else
        FUZZ_CHECK(message[0] != '\0' && memchr(message, '\0', PR_QUANTITY_MESSAGE_MAX) != NULL,
                   "no message");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0)
        return 0;
    if (quantities == NULL)
        quantities = pr_quantities_new();
    if (quantities == NULL)
        return 0;
    const char *unit = units[data[0] % (sizeof units / sizeof units[0])];
    char *text = strndup((const char *)data + 1, size - 1);
    if (text == NULL)
        return 0;
    char message[PR_QUANTITY_MESSAGE_MAX] = "";
    double value = 0.0;
    check(pr_quantity_read(quantities, text, unit, &value, message), value, message);
    message[0] = '\0';
    check(pr_slope_read(quantities, text, &value, message), value, message);
    pr_gauge_kind kind;
    message[0] = '\0';
    if (pr_gauge_read(text, &kind, &value, message) == PR_OK)
        FUZZ_CHECK(isfinite(value), "gauge %g", value);
    const char *end = NULL;
    if (pr_number_scan(text, &end, &value))
        FUZZ_CHECK(isfinite(value) && end > text && end <= text + strlen(text), "scan %g", value);
    pr_quantity_describe(quantities, text, message, sizeof message);
    free(text);
    return 0;
}
