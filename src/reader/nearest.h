/* Words that people misspell: distance between words, and names in one form. */
#ifndef PR_READER_NEAREST_H
#define PR_READER_NEAREST_H

#include <stdbool.h>
#include <stddef.h>

/* Letters to add, drop, change or swap with a neighbour to make a into b (optimal string alignment,
 * case ignored). Words are compared up to 63 bytes. */
size_t pr_edit_distance(const char *a, const char *b);

/* The same, or from a word to one of the words of a longer name, "mud" to "shallow-mud": then one
 * more than between those words. */
size_t pr_name_distance(const char *given, const char *name);

/* Is `distance` small enough to suggest `word`? About one letter in three. */
bool pr_is_near(size_t distance, const char *word);

/* "Petrol 6", "petrol_6" and "petrol-6" name the same thing: lower case, everything but letters,
 * digits and bytes above 127 becomes one '-'. False when nothing is left or it does not fit. */
bool pr_name_canonical(const char *name, char *canonical, size_t size);
bool pr_name_equal(const char *a, const char *b);

#endif
