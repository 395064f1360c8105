/* Bytes to tree: what a file must be before it is parsed, and libyaml's events as nodes.
 *
 * The event interface is used rather than libyaml's document loader: it shows anchors and aliases
 * at their places, and lets us stop at too many values before they take memory. */
#include "base/utf8.h"
#include "reader/document.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <yaml.h>

static pr_status refuse(pr_diag *diag, pr_place place, const char *text)
{
    pr_diag_add(diag, PR_ERROR, place, "%s", text);
    return PR_ERR_INPUT;
}

/* Why a character has no business in a text that people edit; NULL when it may stand. */
static const char *bad_character(uint32_t c)
{
    if (c == 0)
        return "a zero byte: this is no text file";
    if ((c < 0x20 && c != '\t' && c != '\n' && c != '\r') || (c >= 0x7f && c < 0xa0))
        return "a control character";
    if (c == 0x2028 || c == 0x2029)
        return "a line or paragraph separator (U+2028, U+2029): use a plain new line";
    if ((c >= 0x202a && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069))
        return "an invisible character that turns the direction of the text";
    if (c == 0xfeff)
        return "a byte order mark in the middle of the text";
    return NULL;
}

/* All of a text, once, so that line and column are ours and the message is plain. */
static pr_status check_characters(const char *name, const char *text, size_t size, pr_diag *diag)
{
    const unsigned char *s = (const unsigned char *)text;
    pr_place at = {name, 1, 1};
    if (size >= 2 && ((s[0] == 0xff && s[1] == 0xfe) || (s[0] == 0xfe && s[1] == 0xff)))
        return refuse(diag, at, "this is UTF-16 or UTF-32 text: save the file as UTF-8");
    for (size_t i = 0; i < size;) {
        if (s[i] >= 0x20 && s[i] < 0x7f) { /* nearly all of a file */
            at.column++;
            i++;
            continue;
        }
        uint32_t code;
        const size_t n = pr_utf8_decode(text + i, &code);
        if (n == 0)
            return refuse(diag, at, "bytes that are no UTF-8: save the file as UTF-8");
        const char *why = bad_character(code);
        if (why != NULL)
            return refuse(diag, at, why);
        if (s[i] == '\n' || (s[i] == '\r' && s[i + 1] != '\n')) {
            at.line++;
            at.column = 1;
        } else {
            at.column++;
        }
        i += n;
    }
    return PR_OK;
}

static pr_status keep_text(pr_document *document, const char *name, char *text, size_t size,
                           pr_diag *diag)
{
    if (size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) { /* byte order mark of UTF-8 */
        text += 3;
        size -= 3;
    }
    const pr_status status = check_characters(name, text, size, diag);
    if (status == PR_OK) {
        document->text = text;
        document->size = size;
    }
    return status;
}

static pr_status say_too_large(pr_diag *diag, const char *name, size_t max_bytes)
{
    pr_diag_add(diag, PR_ERROR, (pr_place){name, 0, 0},
                "larger than %zu KiB, the most that is read", max_bytes / 1024);
    return PR_ERR_INPUT;
}

pr_status pr_document_load_text(pr_document *document, const char *name, const char *text,
                                size_t size, size_t max_bytes, pr_diag *diag)
{
    if (max_bytes == 0)
        max_bytes = PR_DOCUMENT_BYTES_MAX;
    if (size > max_bytes)
        return say_too_large(diag, name, max_bytes);
    char *copy = pr_document_copy(document, text, size);
    return copy == NULL ? PR_ERR_NOMEM : keep_text(document, name, copy, size, diag);
}

/* Opens a plain file without waiting for anybody (a pipe without a writer would hang). */
static int open_plain(const char *path, size_t *size, pr_diag *diag)
{
    const pr_place at = {path, 0, 0};
    struct stat info;
    const int is_stdin = strcmp(path, "-") == 0;
    const int fd = is_stdin ? dup(STDIN_FILENO) : open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &info) != 0) {
        pr_diag_add(diag, PR_ERROR, at, "cannot be opened: %s", strerror(errno));
        if (fd >= 0)
            close(fd);
        return -1;
    }
    if (!is_stdin && !S_ISREG(info.st_mode)) {
        refuse(diag, at, S_ISDIR(info.st_mode) ? "is a folder, not a file" : "is no plain file");
        close(fd);
        return -1;
    }
    *size = S_ISREG(info.st_mode) && info.st_size > 0 ? (size_t)info.st_size : 0;
    return fd;
}

/* Reads to the end, one byte more than allowed at most. */
static pr_status read_all(int fd, const char *path, char *text, size_t room, size_t *size,
                          pr_diag *diag)
{
    *size = 0;
    while (*size < room) {
        const ssize_t n = read(fd, text + *size, room - *size);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0) {
            pr_diag_add(diag, PR_ERROR, (pr_place){path, 0, 0}, "cannot be read: %s",
                        strerror(errno));
            return PR_ERR_INPUT;
        }
        if (n == 0)
            break;
        *size += (size_t)n;
    }
    return PR_OK;
}

pr_status pr_document_load(pr_document *document, const char *path, size_t max_bytes, pr_diag *diag)
{
    if (max_bytes == 0)
        max_bytes = PR_DOCUMENT_BYTES_MAX;
    size_t size;
    const int fd = open_plain(path, &size, diag);
    if (fd < 0)
        return PR_ERR_INPUT;
    pr_status status = PR_OK;
    if (size > max_bytes) {
        status = say_too_large(diag, path, max_bytes);
    } else {
        /* one byte more than a plain file says shows that it grew; others do not say */
        const size_t room = (size > 0 ? size : max_bytes) + 1;
        char *text = pr_document_alloc(document, room + 1);
        status = text == NULL ? PR_ERR_NOMEM : read_all(fd, path, text, room, &size, diag);
        if (status == PR_OK && size == room)
            status = room > max_bytes
                         ? say_too_large(diag, path, max_bytes)
                         : refuse(diag, (pr_place){path, 0, 0}, "grew while it was read");
        if (status == PR_OK) {
            text[size] = '\0';
            status = keep_text(document, path, text, size, diag);
        }
    }
    close(fd);
    return status;
}

/* The tree while it is built. */
typedef struct builder {
    pr_document *document;
    pr_diag *diag;
    const char *name;
    size_t first_line;
    pr_node *open[PR_DOCUMENT_DEPTH_MAX]; /* maps and lists not yet closed */
    size_t depth;
    pr_node *key[PR_DOCUMENT_DEPTH_MAX]; /* key that waits for its value */
    size_t documents;
    bool failed; /* a mistake was reported that ends the parse, and leaves nothing to read */
    bool spoilt; /* the same, but further mistakes of this kind are looked for */
} builder;

static pr_place mark_place(const builder *b, yaml_mark_t mark)
{
    return (pr_place){b->name, mark.line + b->first_line, mark.column + 1};
}

static pr_status stop_at(builder *b, yaml_mark_t mark, const char *text)
{
    b->failed = true;
    return refuse(b->diag, mark_place(b, mark), text);
}

/* A key without a value yet: must be a short word, and new in its map. */
static pr_status take_key(builder *b, pr_node *node)
{
    const pr_place at = pr_node_place(node);
    if (node->kind != PR_NODE_SCALAR)
        return refuse(b->diag, at, "a key must be a word, not a map or list");
    b->key[b->depth - 1] = node;
    if (strlen(node->text) >= PR_KEY_MAX) {
        pr_diag_add(b->diag, PR_ERROR, at, "key longer than %d bytes", PR_KEY_MAX - 1);
        b->spoilt = true;
        return PR_ERR_INPUT;
    }
    const pr_node *twin = pr_node_get(b->open[b->depth - 1], node->text);
    if (twin != NULL)
        pr_diag_add(b->diag, PR_ERROR, at, "\"%s\" stands twice, first in line %zu", node->text,
                    twin->key_line);
    return PR_OK;
}

/* Hangs a finished node into the innermost open one. */
static pr_status place_node(builder *b, pr_node *node)
{
    if (b->depth == 0) {
        b->document->root = node;
        return PR_OK;
    }
    pr_node *parent = b->open[b->depth - 1];
    if (parent->kind == PR_NODE_MAP) {
        pr_node *key = b->key[b->depth - 1];
        if (key == NULL)
            return take_key(b, node);
        node->key = key->text;
        node->key_line = key->line;
        node->key_column = key->column;
        b->key[b->depth - 1] = NULL;
    }
    pr_node_append(parent, node);
    return PR_OK;
}

/* Node for an event that begins one; checks what all such events share. An anchor or a tag is left
 * out, so that the rest can be read for more mistakes. */
static pr_status begin_node(builder *b, const yaml_event_t *event, pr_node_kind kind,
                            const yaml_char_t *anchor, const yaml_char_t *tag, bool tag_implicit,
                            pr_node **node)
{
    const pr_place at = mark_place(b, event->start_mark);
    if (anchor != NULL)
        (void)refuse(b->diag, at, "anchors (&) are not supported");
    if (tag != NULL && !tag_implicit)
        (void)refuse(b->diag, at, "tags (!) are not supported");
    if (++b->document->nodes > PR_DOCUMENT_NODES_MAX)
        return stop_at(b, event->start_mark, "too many values in this file");
    *node = pr_node_new(b->document, kind, b->name, at.line, at.column);
    return *node == NULL ? PR_ERR_NOMEM : PR_OK;
}

static pr_status take_scalar(builder *b, const yaml_event_t *event)
{
    pr_node *node = NULL;
    const bool implicit = event->data.scalar.plain_implicit || event->data.scalar.quoted_implicit;
    pr_status status = begin_node(b, event, PR_NODE_SCALAR, event->data.scalar.anchor,
                                  event->data.scalar.tag, implicit, &node);
    if (status != PR_OK)
        return status;
    node->plain = event->data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
    const char *text = (const char *)event->data.scalar.value;
    if (strlen(text) != event->data.scalar.length)
        return stop_at(b, event->start_mark, "a zero character in a text");
    node->text = pr_document_copy(b->document, text, event->data.scalar.length);
    return node->text == NULL ? PR_ERR_NOMEM : place_node(b, node);
}

static pr_status open_node(builder *b, const yaml_event_t *event, pr_node_kind kind)
{
    pr_node *node = NULL;
    const bool is_map = kind == PR_NODE_MAP;
    pr_status status = begin_node(
        b, event, kind,
        is_map ? event->data.mapping_start.anchor : event->data.sequence_start.anchor,
        is_map ? event->data.mapping_start.tag : event->data.sequence_start.tag,
        is_map ? event->data.mapping_start.implicit : event->data.sequence_start.implicit, &node);
    if (status != PR_OK)
        return status;
    if (b->depth == PR_DOCUMENT_DEPTH_MAX)
        return stop_at(b, event->start_mark, "nested too deeply");
    status = place_node(b, node);
    if (status != PR_OK) {
        b->failed = true; /* a map as key: what follows would be misread */
        return status;
    }
    b->key[b->depth] = NULL;
    b->open[b->depth++] = node;
    return PR_OK;
}

/* Stands for the value of a key as one that is lost; of a list it is left out. */
static pr_status take_alias(builder *b, const yaml_event_t *event)
{
    static const char text[] = "aliases (*) are not supported";
    pr_node *const key = b->depth == 0 ? NULL : b->key[b->depth - 1];
    if (b->depth > 0 && b->open[b->depth - 1]->kind == PR_NODE_LIST)
        return refuse(b->diag, mark_place(b, event->start_mark), text);
    if (key == NULL)
        return stop_at(b, event->start_mark, text);
    const pr_place at = mark_place(b, event->start_mark);
    (void)refuse(b->diag, at, text);
    pr_node *node = pr_node_new(b->document, PR_NODE_SCALAR, b->name, at.line, at.column);
    if (node == NULL)
        return PR_ERR_NOMEM;
    node->plain = node->lost = true;
    node->text = "";
    return place_node(b, node);
}

static pr_status take_event(builder *b, const yaml_event_t *event)
{
    switch (event->type) {
    case YAML_DOCUMENT_START_EVENT:
        if (b->documents++ > 0)
            return stop_at(b, event->start_mark, "a second document: a file holds one");
        return PR_OK;
    case YAML_ALIAS_EVENT:
        return take_alias(b, event);
    case YAML_SCALAR_EVENT:
        return take_scalar(b, event);
    case YAML_MAPPING_START_EVENT:
        return open_node(b, event, PR_NODE_MAP);
    case YAML_SEQUENCE_START_EVENT:
        return open_node(b, event, PR_NODE_LIST);
    case YAML_MAPPING_END_EVENT:
    case YAML_SEQUENCE_END_EVENT:
        b->depth -= b->depth > 0; /* libyaml ends what it began, no more */
        return PR_OK;
    default:
        return PR_OK;
    }
}

/* libyaml's own complaint, as one of ours. */
static pr_status say_syntax(const builder *b, const yaml_parser_t *parser)
{
    if (parser->error == YAML_MEMORY_ERROR)
        return PR_ERR_NOMEM;
    const char *problem = parser->problem == NULL ? "cannot be read" : parser->problem;
    const pr_place at = mark_place(b, parser->problem_mark);
    if (parser->context != NULL)
        pr_diag_add(b->diag, PR_ERROR, at, "not YAML: %s (%s, line %zu)", problem, parser->context,
                    parser->context_mark.line + b->first_line);
    else
        pr_diag_add(b->diag, PR_ERROR, at, "not YAML: %s", problem);
    for (size_t k = 0; k < b->depth; k++)
        b->open[k]->lost = true;
    return PR_ERR_INPUT;
}

static pr_status parse_events(builder *b, yaml_parser_t *parser)
{
    pr_status worst = PR_OK;
    for (bool done = false; !done;) {
        yaml_event_t event;
        if (!yaml_parser_parse(parser, &event))
            return say_syntax(b, parser);
        done = event.type == YAML_STREAM_END_EVENT;
        const pr_status status = take_event(b, &event);
        yaml_event_delete(&event);
        if (status != PR_OK)
            worst = status;
        done = done || status == PR_ERR_NOMEM || b->failed;
    }
    return worst;
}

pr_status pr_document_parse(pr_document *document, const char *name, size_t start, size_t end,
                            size_t first_line, pr_diag *diag)
{
    const size_t errors = diag->errors;
    const char *kept = pr_document_copy(document, name, strlen(name));
    yaml_parser_t parser;
    if (kept == NULL || !yaml_parser_initialize(&parser))
        return PR_ERR_NOMEM;
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)document->text + start,
                                 end - start);
    builder b = {.document = document, .diag = diag, .name = kept, .first_line = first_line};
    document->root = NULL;
    pr_status status = parse_events(&b, &parser);
    yaml_parser_delete(&parser);
    pr_node *const root = b.document->root;
    const bool is_map = root != NULL && root->kind == PR_NODE_MAP;
    if (b.failed || b.spoilt || !is_map)
        document->root = NULL;
    if (status != PR_OK || diag->errors > errors)
        return status == PR_OK ? PR_ERR_INPUT : status;
    if (root == NULL || pr_node_is_empty(root))
        return refuse(diag, (pr_place){kept, first_line, 1}, "the file is empty");
    if (!is_map)
        return refuse(diag, pr_node_place(root),
                      "the file must hold keys with values, like `title: ...`");
    return PR_OK;
}
