/* Folders of data that come with the program: found from where the program or the library lies, so
 * that a moved installation and a build folder inside the source tree both work. */
#ifndef PR_BASE_FOLDER_H
#define PR_BASE_FOLDER_H

#include "base/status.h"
#include <stddef.h>

/* The folder called `name` that holds a file called `probe`: the one that the environment variable
 * `variable` names (taken at its word), else share/pullrest/NAME or NAME beside the program or up
 * to five folders above it, else the same from where the library was loaded. PR_ERR_IO: none, or
 * `size` is too small. */
pr_status pr_folder_find(const char *variable, const char *name, const char *probe, char *path,
                         size_t size);

#endif
