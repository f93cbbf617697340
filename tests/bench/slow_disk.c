/* A slower disk: every forced write of a program takes SLOW_DISK_US microseconds longer.  Loaded with LD_PRELOAD. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <unistd.h>

static int slowly(const char *name, int fd) {
    int answer = ((int (*)(int))dlsym(RTLD_NEXT, name))(fd);
    const char *more = getenv("SLOW_DISK_US");
    if (more) usleep((useconds_t)atoi(more));
    return answer;
}
int fdatasync(int fd) { return slowly("fdatasync", fd); }
int fsync(int fd) { return slowly("fsync", fd); }
