/* A kernel that calls its clock synchronised, or not: preloaded into a real
 * program, it answers the one question that is asked of it.
 *
 *   SEEP_SHIM_SYNCED  1 or 0 */
#define _GNU_SOURCE
#include <stdlib.h>
#include <string.h>
#include <sys/timex.h>

int adjtimex(struct timex *t) {
    const char *synced = getenv("SEEP_SHIM_SYNCED");
    int yes = synced && *synced == '1';
    memset(t, 0, sizeof *t);
    t->status = yes ? 0 : STA_UNSYNC;
    return yes ? TIME_OK : TIME_ERROR;
}
