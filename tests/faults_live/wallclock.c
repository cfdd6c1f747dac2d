/* Shifts what a process is told of the wall clock, and nothing else, by the nanoseconds in a shared file.
 * LD_PRELOAD this and name the file (8 bytes, a native int64) in WALLCLOCK_SHIFT. Monotonic and boot time stay true. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <time.h>

static volatile const int64_t *shift_ns;
static int (*real_gettime)(clockid_t, struct timespec *);

__attribute__((constructor)) static void open_shift(void)
{
    const char *path = getenv("WALLCLOCK_SHIFT");
    real_gettime = (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    int fd = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    if (fd >= 0) {
        void *at = mmap(NULL, sizeof *shift_ns, PROT_READ, MAP_SHARED, fd, 0);
        shift_ns = at == MAP_FAILED ? NULL : at;
    }
}

int clock_gettime(clockid_t clock, struct timespec *now)
{
    int failed = real_gettime(clock, now);
    if (!failed && shift_ns && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE)) {
        int64_t by = *shift_ns, ns = now->tv_nsec + by % 1000000000;
        now->tv_sec += by / 1000000000 + (ns >= 1000000000) - (ns < 0);
        now->tv_nsec = (ns + 1000000000) % 1000000000;
    }
    return failed;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone)
{
    struct timespec at;
    int failed = clock_gettime(CLOCK_REALTIME, &at);
    (void)zone;
    now->tv_sec = at.tv_sec;
    now->tv_usec = at.tv_nsec / 1000;
    return failed;
}

time_t time(time_t *told)
{
    struct timespec at;
    clock_gettime(CLOCK_REALTIME, &at);
    if (told)
        *told = at.tv_sec;
    return at.tv_sec;
}
