/* Style and script of the page, as embed.py puts them into the program at build time. */
#ifndef PR_REPORT_PAGE_ASSETS_H
#define PR_REPORT_PAGE_ASSETS_H

extern const char pr_page_style[], pr_page_script[];
/* "sha256-...", of the bytes above without the final zero. */
extern const char pr_page_style_hash[], pr_page_script_hash[];

#endif
