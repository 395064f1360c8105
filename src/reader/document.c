/* Tree of a document, and the memory that it stands in. */
#include "reader/document.h"

#include <stdlib.h>
#include <string.h>

struct pr_arena_block {
    pr_arena_block *next;
    size_t used, size;
    max_align_t data[];
};

enum { BLOCK_BYTES = 16 * 1024 };

pr_document pr_document_init(void)
{
    return (pr_document){0};
}

void pr_document_free(pr_document *document)
{
    pr_arena_block *block = document->arena;
    while (block != NULL) {
        pr_arena_block *next = block->next;
        free(block);
        block = next;
    }
    *document = pr_document_init();
}

void *pr_document_alloc(pr_document *document, size_t size)
{
    const size_t align = sizeof(max_align_t);
    size = (size + align - 1) / align * align;
    pr_arena_block *block = document->arena;
    if (block == NULL || block->size - block->used < size) {
        const size_t room = size > BLOCK_BYTES ? size : BLOCK_BYTES;
        block = calloc(1, sizeof *block + room);
        if (block == NULL)
            return NULL;
        block->size = room;
        block->next = document->arena;
        document->arena = block;
    }
    void *memory = (char *)block->data + block->used;
    block->used += size;
    return memory;
}

char *pr_document_copy(pr_document *document, const char *text, size_t length)
{
    char *copy = pr_document_alloc(document, length + 1);
    if (copy != NULL)
        memcpy(copy, text, length);
    return copy;
}

pr_node *pr_node_new(pr_document *document, pr_node_kind kind, const char *file, size_t line,
                     size_t column)
{
    pr_node *node = pr_document_alloc(document, sizeof *node);
    if (node != NULL) {
        node->kind = kind;
        node->file = file;
        node->line = line;
        node->column = column;
    }
    return node;
}

void pr_node_append(pr_node *parent, pr_node *child)
{
    child->next = NULL;
    if (parent->last == NULL)
        parent->first = child;
    else
        parent->last->next = child;
    parent->last = child;
    parent->count++;
}

pr_node *pr_node_share(pr_document *document, const pr_node *node)
{
    pr_node *copy = pr_document_alloc(document, sizeof *copy);
    if (copy != NULL) {
        *copy = *node;
        copy->next = NULL;
    }
    return copy;
}

const pr_node *pr_node_get(const pr_node *map, const char *key)
{
    if (map == NULL || map->kind != PR_NODE_MAP)
        return NULL;
    for (const pr_node *child = map->first; child != NULL; child = child->next)
        if (strcmp(child->key, key) == 0)
            return child;
    return NULL;
}

bool pr_node_is_empty(const pr_node *node)
{
    return node->kind == PR_NODE_SCALAR && node->plain &&
           (node->text[0] == '\0' || strcmp(node->text, "~") == 0 ||
            strcmp(node->text, "null") == 0);
}

bool pr_node_is_none(const pr_node *node)
{
    return node->kind == PR_NODE_SCALAR && node->plain &&
           (strcmp(node->text, "none") == 0 || strcmp(node->text, "no") == 0);
}

pr_place pr_node_place(const pr_node *node)
{
    return (pr_place){node->file, node->line, node->column};
}

pr_place pr_node_key_place(const pr_node *node)
{
    if (node->key == NULL || node->key_line == 0)
        return pr_node_place(node);
    return (pr_place){node->file, node->key_line, node->key_column};
}

/* Bytes of text, at most max, that do not cut a character in two. */
static size_t whole_characters(const char *text, size_t length, size_t max)
{
    if (length <= max)
        return length;
    while (max > 0 && ((unsigned char)text[max] & 0xc0) == 0x80)
        max--;
    return max;
}

void pr_document_first_comment(const pr_document *document, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    const char *line = document->text;
    while (line != NULL && (*line == '\n' || *line == '\r'))
        line++;
    while (line != NULL && *line == '#') {
        line += strspn(line, "# \t");
        size_t length = strcspn(line, "\r\n");
        const char *next = line + length;
        while (length > 0 && (line[length - 1] == ' ' || line[length - 1] == '\t'))
            length--;
        if (length == 0)
            break;
        if (used > 0 && used + 1 < size)
            text[used++] = ' ';
        const size_t fits = whole_characters(line, length, size - 1 - used);
        memcpy(text + used, line, fits);
        used += fits;
        text[used] = '\0';
        if (fits < length)
            break;
        next += strspn(next, "\r");
        line = *next == '\n' ? next + 1 : NULL;
    }
}
