/* A disk that remembers, and fails on command: preloaded into a real program,
 * it notes every change that the program makes to files of one folder, in
 * order, and makes chosen calls fail or wait.
 *
 *   SEEP_SHIM_FOLDER  the folder (absolute, no symbolic link in it)
 *   SEEP_SHIM_TRACE   where to note changes; absent: nothing is noted
 *   SEEP_SHIM_FAULTS  a file with one fault per line, read before every call,
 *                     so that faults can come and go while the program runs:
 *                         OP ACTION WHICH NAME
 *                     OP      open (for writing), read, write, truncate, sync,
 *                             unlink, rename, link
 *                     ACTION  an errno, or +MS to wait so long
 *                     WHICH   n: every n-th call; =n: the n-th call only;
 *                             >n: every call after the n-th
 *                     NAME    part of the file's name
 *                     Calls are counted per line from the moment it appears.
 *
 * A record of the trace is one line, then LENGTH bytes for a write:
 *   KIND TIME_NS INODE OFFSET LENGTH NAME
 *   c create   w write   t truncate to OFFSET   s sync a file
 *   d sync the folder   u unlink   r rename NAME (from, tab, to)
 *   l link NAME (from, tab, to)
 * Shared memory (-shm) is left alone: it is no part of what survives. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

#define MOST_FDS 4096
#define MOST_FAULTS 16
#define REAL(name) ((__typeof__(&name))real(#name))

enum kind { FOREIGN, LOGGED, FOLDER };
struct slot { enum kind kind; ino_t ino; char name[128]; };

static struct slot slots[MOST_FDS];
static pthread_mutex_t lock = PTHREAD_RECURSIVE_MUTEX_INITIALIZER_NP;
static char folder[512], faults[512];
static int trace = -1;
static struct { char line[256]; long calls; } seen[MOST_FAULTS];

static void *real(const char *name) { return dlsym(RTLD_NEXT, name); }

__attribute__((constructor)) static void begin(void) {
    const char *f = getenv("SEEP_SHIM_FOLDER"), *t = getenv("SEEP_SHIM_TRACE"), *x = getenv("SEEP_SHIM_FAULTS");
    if (x) snprintf(faults, sizeof faults, "%s", x);
    if (t) trace = REAL(open)(t, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (f) snprintf(folder, sizeof folder, "%s", f);
}

/* The name below the folder; "" for the folder; NULL for anything else. */
static const char *below(const char *path) {
    size_t n = strlen(folder);
    if (!n || !path || strncmp(path, folder, n)) return NULL;
    if (!path[n] || (path[n] == '/' && !path[n + 1])) return "";
    if (path[n] != '/') return NULL;
    const char *name = path + n + 1;
    size_t length = strlen(name);
    if (length > 4 && !strcmp(name + length - 4, "-shm")) return NULL;
    return length < sizeof slots[0].name ? name : NULL;
}

static void note(char kind, ino_t ino, long long offset, const void *data, size_t length, const char *name) {
    if (trace < 0) return;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    char head[512];
    int n = snprintf(head, sizeof head, "%c %lld %llu %lld %zu %s\n", kind,
                     now.tv_sec * 1000000000LL + now.tv_nsec, (unsigned long long)ino, offset, data ? length : 0, name);
    struct iovec parts[2] = {{head, (size_t)n}, {(void *)data, data ? length : 0}};
    ssize_t wanted = n + (ssize_t)parts[1].iov_len;
    if (REAL(writev)(trace, parts, 2) != wanted) abort(); /* a trace with holes proves nothing */
}

/* Calls of this kind under a line of the fault file, this one included. */
static long count(const char *line) {
    for (int i = 0; i < MOST_FAULTS; i++) {
        if (!seen[i].line[0]) snprintf(seen[i].line, sizeof seen[i].line, "%s", line);
        if (!strcmp(seen[i].line, line)) return ++seen[i].calls;
    }
    return 0;
}

/* Wait, or return the errno this call is to fail with; 0 to go on. */
static int fault(const char *op, const char *name) {
    if (!faults[0] || !name) return 0;
    int result = 0, wait_ms = 0, saved = errno;
    pthread_mutex_lock(&lock);
    int fd = REAL(open)(faults, O_RDONLY | O_CLOEXEC);
    if (fd >= 0) {
        char text[2048];
        ssize_t n = REAL(read)(fd, text, sizeof text - 1);
        REAL(close)(fd);
        text[n > 0 ? n : 0] = 0;
        char *rest = text, *line;
        while ((line = strsep(&rest, "\n"))) {
            char f_op[16], action[16], which[16], part[64];
            if (sscanf(line, "%15s %15s %15s %63s", f_op, action, which, part) != 4) continue;
            if (strcmp(f_op, op) || !strstr(name, part)) continue;
            long nth = count(line), n = atol(which + (which[0] == '=' || which[0] == '>'));
            int hit = which[0] == '=' ? nth == n : which[0] == '>' ? nth > n : nth % n == 0;
            if (!hit) continue;
            if (action[0] == '+') wait_ms += atoi(action + 1);
            else result = atoi(action);
        }
    }
    pthread_mutex_unlock(&lock);
    if (wait_ms) usleep((useconds_t)wait_ms * 1000);
    errno = saved;
    return result;
}

#define FAIL_IF(op, name, value) do { int e_ = fault(op, name); if (e_) { errno = e_; return value; } } while (0)

static const char *name_of(int fd) {
    return fd >= 0 && fd < MOST_FDS && slots[fd].kind == LOGGED ? slots[fd].name : NULL;
}

static int opened(int (*call)(const char *, int, ...), const char *path, int flags, mode_t mode) {
    const char *name = below(path);
    if (name && name[0] && (flags & O_ACCMODE) != O_RDONLY) FAIL_IF("open", name, -1);
    pthread_mutex_lock(&lock);
    struct stat before, after;
    int was_there = name && !stat(path, &before);
    int fd = call(path, flags, mode);
    int saved = errno;
    if (fd >= 0 && fd < MOST_FDS) {
        slots[fd].kind = !name ? FOREIGN : name[0] ? LOGGED : FOLDER;
        if (name && name[0]) {
            fstat(fd, &after);
            slots[fd].ino = after.st_ino;
            snprintf(slots[fd].name, sizeof slots[fd].name, "%s", name);
            if (!was_there) note('c', after.st_ino, 0, NULL, 0, name);
            else if ((flags & O_TRUNC) && before.st_size) note('t', after.st_ino, 0, NULL, 0, name);
        }
    }
    pthread_mutex_unlock(&lock);
    errno = saved;
    return fd;
}

#define OPEN(symbol)                                                          \
    int symbol(const char *path, int flags, ...) {                            \
        va_list more;                                                         \
        va_start(more, flags);                                                \
        mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, mode_t) : 0; \
        va_end(more);                                                         \
        return opened(REAL(symbol), path, flags, mode);                       \
    }
OPEN(open)
OPEN(open64)

static ssize_t written(int fd, const void *data, size_t length, long long offset, ssize_t (*call)(int, const void *, size_t, off64_t)) {
    const char *name = name_of(fd);
    if (!name) return call ? call(fd, data, length, offset) : REAL(write)(fd, data, length);
    FAIL_IF("write", name, -1);
    pthread_mutex_lock(&lock);
    if (!call) {
        struct stat now;
        int appends = REAL(fcntl)(fd, F_GETFL) & O_APPEND;
        offset = appends && !fstat(fd, &now) ? now.st_size : lseek64(fd, 0, SEEK_CUR);
    }
    ssize_t n = call ? call(fd, data, length, offset) : REAL(write)(fd, data, length);
    int saved = errno;
    if (n > 0) note('w', slots[fd].ino, offset, data, (size_t)n, name);
    pthread_mutex_unlock(&lock);
    errno = saved;
    return n;
}

ssize_t write(int fd, const void *data, size_t length) { return written(fd, data, length, 0, NULL); }
ssize_t pwrite(int fd, const void *data, size_t length, off_t at) { return written(fd, data, length, at, REAL(pwrite64)); }
ssize_t pwrite64(int fd, const void *data, size_t length, off64_t at) { return written(fd, data, length, at, REAL(pwrite64)); }

ssize_t read(int fd, void *data, size_t length) {
    FAIL_IF("read", name_of(fd), -1);
    return REAL(read)(fd, data, length);
}
ssize_t pread64(int fd, void *data, size_t length, off64_t at) {
    FAIL_IF("read", name_of(fd), -1);
    return REAL(pread64)(fd, data, length, at);
}
ssize_t pread(int fd, void *data, size_t length, off_t at) { return pread64(fd, data, length, at); }

int ftruncate64(int fd, off64_t length) {
    const char *name = name_of(fd);
    if (!name) return REAL(ftruncate64)(fd, length);
    FAIL_IF("truncate", name, -1);
    pthread_mutex_lock(&lock);
    int done = REAL(ftruncate64)(fd, length);
    int saved = errno;
    if (!done) note('t', slots[fd].ino, length, NULL, 0, name);
    pthread_mutex_unlock(&lock);
    errno = saved;
    return done;
}
int ftruncate(int fd, off_t length) { return ftruncate64(fd, length); }

static int synced(int fd, int (*call)(int)) {
    enum kind kind = fd >= 0 && fd < MOST_FDS ? slots[fd].kind : FOREIGN;
    if (kind == FOREIGN) return call(fd);
    if (kind == LOGGED) FAIL_IF("sync", slots[fd].name, -1);
    pthread_mutex_lock(&lock);
    int done = call(fd);
    int saved = errno;
    if (!done) note(kind == FOLDER ? 'd' : 's', slots[fd].ino, 0, NULL, 0, kind == FOLDER ? "." : slots[fd].name);
    pthread_mutex_unlock(&lock);
    errno = saved;
    return done;
}
int fsync(int fd) { return synced(fd, REAL(fsync)); }
int fdatasync(int fd) { return synced(fd, REAL(fdatasync)); }

int close(int fd) {
    pthread_mutex_lock(&lock);
    if (fd >= 0 && fd < MOST_FDS) slots[fd].kind = FOREIGN;
    int done = REAL(close)(fd);
    pthread_mutex_unlock(&lock);
    return done;
}

int unlink(const char *path) {
    const char *name = below(path);
    if (!name) return REAL(unlink)(path);
    FAIL_IF("unlink", name, -1);
    pthread_mutex_lock(&lock);
    int done = REAL(unlink)(path);
    int saved = errno;
    if (!done) note('u', 0, 0, NULL, 0, name);
    pthread_mutex_unlock(&lock);
    errno = saved;
    return done;
}

int rename(const char *from, const char *to) {
    const char *a = below(from), *b = below(to);
    if (!a || !b) return REAL(rename)(from, to);
    FAIL_IF("rename", a, -1);
    pthread_mutex_lock(&lock);
    int done = REAL(rename)(from, to);
    int saved = errno;
    char both[512];
    snprintf(both, sizeof both, "%s\t%s", a, b);
    if (!done) note('r', 0, 0, NULL, 0, both);
    pthread_mutex_unlock(&lock);
    errno = saved;
    return done;
}

int linkat(int from_folder, const char *from, int to_folder, const char *to, int flags) {
    const char *a = below(from), *b = below(to);
    if (!a || !b) return REAL(linkat)(from_folder, from, to_folder, to, flags);
    FAIL_IF("link", a, -1);
    pthread_mutex_lock(&lock);
    int done = REAL(linkat)(from_folder, from, to_folder, to, flags);
    int saved = errno;
    char both[512];
    struct stat file;
    snprintf(both, sizeof both, "%s\t%s", a, b);
    if (!done && !stat(to, &file)) note('l', file.st_ino, 0, NULL, 0, both);
    pthread_mutex_unlock(&lock);
    errno = saved;
    return done;
}
int link(const char *from, const char *to) { return linkat(AT_FDCWD, from, AT_FDCWD, to, 0); }
