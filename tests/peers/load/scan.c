/* The bare scan that the loading of a log is set against: every row and every
 * column of the table of readings, stepped through in C with the SQLite that
 * seep is built with, nothing kept but a sum. Prints rows and sum.
 *
 *     cc -O2 scan.c libsqlite3.a -lm -lpthread -ldl -o scan && ./scan LOG
 *
 * The functions are declared here, so that no header is needed; they are those
 * of SQLite's C interface (https://sqlite.org/c3ref/intro.html).
 */
#include <stdio.h>

typedef struct sqlite3 sqlite3;
typedef struct sqlite3_stmt sqlite3_stmt;
int sqlite3_open_v2(const char *, sqlite3 **, int, const char *);
int sqlite3_prepare_v2(sqlite3 *, const char *, int, sqlite3_stmt **, const char **);
int sqlite3_step(sqlite3_stmt *);
int sqlite3_column_count(sqlite3_stmt *);
long long sqlite3_column_int64(sqlite3_stmt *, int);
const char *sqlite3_errmsg(sqlite3 *);

enum { ROW = 100, DONE = 101, READONLY = 0x1, URI = 0x40, NOMUTEX = 0x8000 };

int main(int argc, char **argv) {
    sqlite3 *log;
    sqlite3_stmt *scan;
    char uri[4096];
    long long rows = 0, sum = 0;
    int said = DONE;
    if (argc != 2) return fprintf(stderr, "usage: scan LOG\n"), 2;
    snprintf(uri, sizeof uri, "file:%s?immutable=1", argv[1]);
    if (sqlite3_open_v2(uri, &log, READONLY | URI | NOMUTEX, NULL) != 0
        || sqlite3_prepare_v2(log, "SELECT * FROM tick ORDER BY t_ms", -1, &scan, NULL) != 0)
        return fprintf(stderr, "%s: %s\n", argv[1], sqlite3_errmsg(log)), 1;
    int columns = sqlite3_column_count(scan);
    while ((said = sqlite3_step(scan)) == ROW) {
        rows++;
        for (int i = 0; i < columns; i++) sum ^= sqlite3_column_int64(scan, i);
    }
    if (said != DONE) return fprintf(stderr, "%s: %s\n", argv[1], sqlite3_errmsg(log)), 1;
    printf("%lld rows, %lld\n", rows, sum);
    return 0;
}
