/* Makes the disk fail: the N-th call that changes a file below a folder, or every call from the N-th on.
   Loaded with LD_PRELOAD; switched on and off by ctypes.  Writes fail with ENOSPC, forced writes with EIO. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int armed, seen, at, sticky;
static char folder[PATH_MAX];

void fault_arm(int n, int every_one_after, const char *below) {
    seen = 0, at = n, sticky = every_one_after;
    snprintf(folder, sizeof folder, "%s", below);
    armed = 1;
}

int fault_disarm(void) {
    armed = 0;
    return seen;
}

static int fails_at(const char *path, int error) {
    if (!armed || strncmp(path, folder, strlen(folder)) != 0) return 0;
    seen++;
    if (seen != at && !(sticky && seen > at)) return 0;
    errno = error;
    return 1;
}

static int fails(int fd, int error) {
    char link[64], path[PATH_MAX];
    if (!armed) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return fails_at(path, error);
}

#define REAL(type, name, ...) ((type (*)(__VA_ARGS__))dlsym(RTLD_NEXT, #name))

ssize_t write(int fd, const void *from, size_t n) {
    return fails(fd, ENOSPC) ? -1 : REAL(ssize_t, write, int, const void *, size_t)(fd, from, n);
}
ssize_t pwrite(int fd, const void *from, size_t n, off_t where) {
    return fails(fd, ENOSPC) ? -1 : REAL(ssize_t, pwrite, int, const void *, size_t, off_t)(fd, from, n, where);
}
ssize_t pwrite64(int fd, const void *from, size_t n, off64_t where) {
    return fails(fd, ENOSPC) ? -1 : REAL(ssize_t, pwrite64, int, const void *, size_t, off64_t)(fd, from, n, where);
}
int ftruncate(int fd, off_t n) { return fails(fd, ENOSPC) ? -1 : REAL(int, ftruncate, int, off_t)(fd, n); }
int ftruncate64(int fd, off64_t n) { return fails(fd, ENOSPC) ? -1 : REAL(int, ftruncate64, int, off64_t)(fd, n); }
int fsync(int fd) { return fails(fd, EIO) ? -1 : REAL(int, fsync, int)(fd); }
int fdatasync(int fd) { return fails(fd, EIO) ? -1 : REAL(int, fdatasync, int)(fd); }
int rename(const char *from, const char *to) {
    return fails_at(to, ENOSPC) ? -1 : REAL(int, rename, const char *, const char *)(from, to);
}

#define OPENS(name)                                                                  \
    int name(const char *path, int flags, ...) {                                     \
        va_list more;                                                                \
        va_start(more, flags);                                                       \
        mode_t mode = flags & O_CREAT ? va_arg(more, mode_t) : 0;                    \
        va_end(more);                                                                \
        if ((flags & O_CREAT) && access(path, F_OK) != 0 && fails_at(path, ENOSPC)) return -1; \
        return REAL(int, name, const char *, int, ...)(path, flags, mode);           \
    }
OPENS(open)
OPENS(open64)
