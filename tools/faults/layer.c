/* A layer between the program and the system, loaded before the C library (LD_PRELOAD).
 *
 * Quiet until `faults_begin` is called in a process. From then on every call that touches a file
 * under one folder is counted, may be recorded, and may be made to fail, as the struct says; the
 * clock may be moved. Calls elsewhere go through untouched.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

enum { OPEN = 1, READ = 2, WRITE = 4, SYNC = 8, NAME = 16, TRUNCATE = 32, PRINT = 64 };
enum { R_OPEN = 1, R_WRITE, R_TRUNCATE, R_SYNC, R_RENAME, R_UNLINK, R_MKDIR, R_RMDIR, R_LINK,
       R_PRINT };
#define MOST_FILES 4096
#define MOST_JUMPS 32
/* Open files that are recorded carry this besides their number, so that two processes which write
 * to one record do not name different files alike. */

struct plan {
  char root[PATH_MAX]; /* the folder that is watched */
  int32_t record;      /* descriptor of the record, or -1 */
  int32_t kill_at;     /* which change is never begun: the process is killed; 0 for none */
  int32_t kill_within; /* bytes of it that are still written, where it is a write; -1 for none */
  int32_t fail_mask;   /* which calls may fail */
  int32_t fail_at;     /* the first of them that fails; 0 for none */
  int32_t fail_errno;
  int32_t fail_ever;   /* whether all after it fail as well */
  int32_t space_errno; /* what a write beyond the space fails with */
  int64_t space;       /* bytes that may be written; -1 for any number */
  int32_t chmod_at;    /* at which change the mode of a folder is changed; 0 for never */
  int32_t chmod_mode;
  char chmod_path[PATH_MAX];
  int32_t jumps;       /* how often the clock jumps */
  int32_t jump_at[MOST_JUMPS];   /* after how many syncs */
  int64_t jump_to[MOST_JUMPS];   /* by how many microseconds it is wrong from then on */
};

struct counts {
  int64_t changes; /* calls that change what is on the disk, or print */
  int64_t failing; /* calls that the mask names */
  int64_t bytes;   /* bytes that were to be written */
  int64_t syncs;
  int64_t failed;  /* calls that were made to fail */
};

static struct plan plan;
static struct counts own, *counts = &own;
static int active;
static uint32_t serial, serials[MOST_FILES];
static pthread_mutex_t lock = PTHREAD_RECURSIVE_MUTEX_INITIALIZER_NP;

#define REAL(name, type, ...) \
  static type (*real)(__VA_ARGS__); \
  if (!real) real = (type(*)(__VA_ARGS__))dlsym(RTLD_NEXT, #name)

void faults_begin(const struct plan *wanted, struct counts *shared) {
  plan = *wanted;
  if (shared) counts = shared;
  serial = ((uint32_t)getpid()) << 12;
  memset(serials, 0, sizeof serials);
  active = 1;
}

static void enter(void) { pthread_mutex_lock(&lock); }
static void leave(void) { int kept = errno; pthread_mutex_unlock(&lock); errno = kept; }

static int absolute(int at, const char *path, char *out) {
  if (!path) return 0;
  if (path[0] == '/') {
    if (strlen(path) >= PATH_MAX) return 0;
    strcpy(out, path);
    return 1;
  }
  char base[PATH_MAX];
  if (at == AT_FDCWD) {
    if (syscall(SYS_getcwd, base, sizeof base) < 0) return 0;
  } else {
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", at);
    ssize_t n = readlink(link, base, sizeof base - 1);
    if (n < 0) return 0;
    base[n] = 0;
  }
  return snprintf(out, PATH_MAX, "%s/%s", base, path) < PATH_MAX;
}

static int watched_path(int at, const char *path, char *out) {
  if (!active || !absolute(at, path, out)) return 0;
  size_t n = strlen(plan.root);
  return !strncmp(out, plan.root, n) && (out[n] == '/' || out[n] == 0);
}

static int watched(int fd) { return active && fd >= 0 && fd < MOST_FILES && serials[fd]; }

static void all(int fd, const void *data, size_t n) {
  const char *from = data;
  while (n) {
    ssize_t k = syscall(SYS_write, fd, from, n);
    if (k <= 0) abort();
    from += k;
    n -= (size_t)k;
  }
}

static void record(int op, uint32_t file, int64_t place, int64_t length, const char *first,
                   const void *second, size_t n) {
  if (plan.record < 0) return;
  struct timespec at;
  syscall(SYS_clock_gettime, CLOCK_MONOTONIC, &at);
  struct { uint32_t op, file; int64_t place, length, at; uint32_t first, second; } head = {
      (uint32_t)op, file, place, length, at.tv_sec * 1000000000LL + at.tv_nsec,
      first ? (uint32_t)strlen(first) : 0, (uint32_t)n};
  size_t whole = sizeof head + head.first + n;
  char *line = malloc(whole);
  memcpy(line, &head, sizeof head);
  if (first) memcpy(line + sizeof head, first, head.first);
  if (n) memcpy(line + sizeof head + head.first, second, n);
  all(plan.record, line, whole);
  free(line);
}

static void die(void) {
  syscall(SYS_kill, getpid(), SIGKILL);
  for (;;) pause();
}

/* Count a call; the errno that it is to fail with, or 0. */
static int fault(int kind, int change) {
  if (change) {
    counts->changes++;
    if (plan.chmod_at && counts->changes == plan.chmod_at)
      syscall(SYS_chmod, plan.chmod_path, plan.chmod_mode);
    if (plan.kill_at && counts->changes == plan.kill_at && (kind != WRITE || plan.kill_within < 0))
      die();
  }
  if (kind & plan.fail_mask) {
    counts->failing++;
    if (plan.fail_at && (counts->failing == plan.fail_at ||
                         (plan.fail_ever && counts->failing > plan.fail_at))) {
      counts->failed++;
      return plan.fail_errno;
    }
  }
  return 0;
}

/* Room for something new: a file or a folder takes some, too. */
static int no_room(void) {
  if (plan.space >= 0 && counts->bytes >= plan.space) {
    counts->failed++;
    return plan.space_errno;
  }
  return 0;
}

static int failed(int error) { errno = error; return -1; }

/* --- files ---------------------------------------------------------------------------------- */
static int opened(int at, const char *path, int flags, mode_t mode) {
  char full[PATH_MAX];
  if (!watched_path(at, path, full)) return (int)syscall(SYS_openat, at, path, flags, mode);
  enter();
  int making = (flags & O_CREAT) != 0;
  int changing = making || (flags & O_TRUNC);
  int error = fault(OPEN, changing);
  struct stat before;
  int fresh = making && syscall(SYS_newfstatat, at, path, &before, 0) < 0;
  if (!error && fresh) error = no_room();
  int fd = error ? failed(error) : (int)syscall(SYS_openat, at, path, flags, mode);
  if (fd >= 0 && fd < MOST_FILES) {
    serials[fd] = ++serial;
    record(R_OPEN, serials[fd], flags, fresh, full, NULL, 0);
  }
  leave();
  return fd;
}

static mode_t mode_in(int flags, va_list more) {
  return flags & (O_CREAT | O_TMPFILE) ? (mode_t)va_arg(more, int) : 0;
}
#define OPENS(name) \
  int name(const char *path, int flags, ...) { \
    va_list more; va_start(more, flags); mode_t mode = mode_in(flags, more); va_end(more); \
    return opened(AT_FDCWD, path, flags, mode); }
#define OPENS_AT(name) \
  int name(int at, const char *path, int flags, ...) { \
    va_list more; va_start(more, flags); mode_t mode = mode_in(flags, more); va_end(more); \
    return opened(at, path, flags, mode); }
OPENS(open) OPENS(open64) OPENS_AT(openat) OPENS_AT(openat64)
int __open_2(const char *path, int flags) { return opened(AT_FDCWD, path, flags, 0); }
int __open64_2(const char *path, int flags) { return opened(AT_FDCWD, path, flags, 0); }
int __openat_2(int at, const char *path, int flags) { return opened(at, path, flags, 0); }
int __openat64_2(int at, const char *path, int flags) { return opened(at, path, flags, 0); }
int creat(const char *path, mode_t mode) {
  return opened(AT_FDCWD, path, O_CREAT | O_WRONLY | O_TRUNC, mode);
}
int creat64(const char *path, mode_t mode) { return creat(path, mode); }

int close(int fd) {
  if (active && fd >= 0 && fd < MOST_FILES) serials[fd] = 0;
  return (int)syscall(SYS_close, fd);
}
static int doubled(int old, int fresh) {
  if (fresh >= 0 && fresh < MOST_FILES && active)
    serials[fresh] = watched(old) ? serials[old] : 0;
  return fresh;
}
int dup(int fd) { return doubled(fd, (int)syscall(SYS_dup, fd)); }
int dup2(int fd, int to) {
  REAL(dup2, int, int, int);
  return doubled(fd, real(fd, to));
}
int dup3(int fd, int to, int flags) { return doubled(fd, (int)syscall(SYS_dup3, fd, to, flags)); }

/* Write, as far as the plan lets it; place is -1 for the present one. */
static ssize_t written(int fd, const void *data, size_t n, off_t place) {
  enter();
  int printing = !watched(fd);
  int error = fault(printing ? PRINT : WRITE, 1);
  size_t most = n;
  if (!error && !printing) {
    if (plan.kill_at && counts->changes == plan.kill_at) {
      if ((size_t)plan.kill_within < most) most = (size_t)plan.kill_within;
    } else if (plan.space >= 0 && counts->bytes + (int64_t)n > plan.space) {
      most = plan.space > counts->bytes ? (size_t)(plan.space - counts->bytes) : 0;
      counts->failed++;
      if (!most && n) error = plan.space_errno;
    }
  }
  ssize_t k = -1;
  if (error) {
    errno = error;
  } else {
    if (printing) record(R_PRINT, 0, 0, (int64_t)n, NULL, data, n);
    k = place < 0 ? syscall(SYS_write, fd, data, most) : syscall(SYS_pwrite64, fd, data, most, place);
    if (k > 0 && !printing) {
      int kept = errno;
      int64_t at = place < 0 ? syscall(SYS_lseek, fd, 0, SEEK_CUR) - k : place;
      record(R_WRITE, serials[fd], at, k, NULL, data, (size_t)k);
      counts->bytes += k;
      errno = kept;
    }
    if (plan.kill_at && counts->changes == plan.kill_at && !printing) die();
  }
  leave();
  return k;
}
static int noticed(int fd) { return active && (fd == 1 || watched(fd)); }
ssize_t write(int fd, const void *data, size_t n) {
  return noticed(fd) ? written(fd, data, n, -1) : syscall(SYS_write, fd, data, n);
}
ssize_t pwrite(int fd, const void *data, size_t n, off_t place) {
  return watched(fd) ? written(fd, data, n, place) : syscall(SYS_pwrite64, fd, data, n, place);
}
ssize_t pwrite64(int fd, const void *data, size_t n, off64_t place) {
  return pwrite(fd, data, n, place);
}
static ssize_t vectored(int fd, const struct iovec *parts, int number, off_t place) {
  ssize_t sum = 0;
  for (int i = 0; i < number; i++) {
    ssize_t k = written(fd, parts[i].iov_base, parts[i].iov_len, place < 0 ? -1 : place + sum);
    if (k < 0) return sum ? sum : k;
    sum += k;
    if ((size_t)k < parts[i].iov_len) break;
  }
  return sum;
}
ssize_t writev(int fd, const struct iovec *parts, int number) {
  return watched(fd) ? vectored(fd, parts, number, -1) : syscall(SYS_writev, fd, parts, number);
}
ssize_t pwritev(int fd, const struct iovec *parts, int number, off_t place) {
  return watched(fd) ? vectored(fd, parts, number, place)
                     : syscall(SYS_pwritev, fd, parts, number, place, 0L);
}
ssize_t pwritev64(int fd, const struct iovec *parts, int number, off64_t place) {
  return pwritev(fd, parts, number, place);
}
/* What would write past this layer is refused; whoever asks for it falls back to write. */
ssize_t sendfile64(int out, int in, off64_t *place, size_t n) {
  return watched(out) ? failed(EINVAL) : syscall(SYS_sendfile, out, in, place, n);
}
ssize_t sendfile(int out, int in, off_t *place, size_t n) { return sendfile64(out, in, place, n); }
ssize_t copy_file_range(int in, off64_t *from, int out, off64_t *to, size_t n, unsigned flags) {
  return watched(out) ? failed(EXDEV) : syscall(SYS_copy_file_range, in, from, out, to, n, flags);
}
int posix_fallocate64(int fd, off64_t place, off64_t n) {
  REAL(posix_fallocate64, int, int, off64_t, off64_t);
  return watched(fd) ? EOPNOTSUPP : real(fd, place, n);
}
int posix_fallocate(int fd, off_t place, off_t n) { return posix_fallocate64(fd, place, n); }
int fallocate64(int fd, int mode, off64_t place, off64_t n) {
  return watched(fd) ? failed(EOPNOTSUPP) : (int)syscall(SYS_fallocate, fd, mode, place, n);
}
int fallocate(int fd, int mode, off_t place, off_t n) { return fallocate64(fd, mode, place, n); }

static int read_fault(int fd) {
  if (!watched(fd)) return 0;
  enter();
  int error = fault(READ, 0);
  leave();
  return error;
}
ssize_t read(int fd, void *data, size_t n) {
  int error = read_fault(fd);
  return error ? failed(error) : syscall(SYS_read, fd, data, n);
}
ssize_t __read_chk(int fd, void *data, size_t n, size_t most) {
  if (n > most) abort();
  return read(fd, data, n);
}
ssize_t pread(int fd, void *data, size_t n, off_t place) {
  int error = read_fault(fd);
  return error ? failed(error) : syscall(SYS_pread64, fd, data, n, place);
}
ssize_t pread64(int fd, void *data, size_t n, off64_t place) { return pread(fd, data, n, place); }
ssize_t __pread64_chk(int fd, void *data, size_t n, off64_t place, size_t most) {
  if (n > most) abort();
  return pread(fd, data, n, place);
}

static int synced(int fd, long number) {
  if (!watched(fd)) return (int)syscall(number, fd);
  enter();
  int error = fault(SYNC, 1);
  counts->syncs++;
  int result = error ? failed(error) : (int)syscall(number, fd);
  if (!result) record(R_SYNC, serials[fd], 0, 0, NULL, NULL, 0);
  leave();
  return result;
}
int fsync(int fd) { return synced(fd, SYS_fsync); }
int fdatasync(int fd) { return synced(fd, SYS_fdatasync); }

int ftruncate64(int fd, off64_t length) {
  if (!watched(fd)) return (int)syscall(SYS_ftruncate, fd, length);
  enter();
  int error = fault(TRUNCATE, 1);
  int result = error ? failed(error) : (int)syscall(SYS_ftruncate, fd, length);
  if (!result) record(R_TRUNCATE, serials[fd], 0, length, NULL, NULL, 0);
  leave();
  return result;
}
int ftruncate(int fd, off_t length) { return ftruncate64(fd, length); }
int truncate64(const char *path, off64_t length) {
  char full[PATH_MAX];
  if (!watched_path(AT_FDCWD, path, full)) return (int)syscall(SYS_truncate, path, length);
  int fd = opened(AT_FDCWD, path, O_WRONLY, 0);
  if (fd < 0) return -1;
  int result = ftruncate64(fd, length), kept = errno;
  close(fd);
  errno = kept;
  return result;
}
int truncate(const char *path, off_t length) { return truncate64(path, length); }

/* --- names ---------------------------------------------------------------------------------- */
int renameat2(int at, const char *from, int to_at, const char *to, unsigned flags) {
  char full[PATH_MAX], other[PATH_MAX];
  int here = watched_path(at, from, full), there = watched_path(to_at, to, other);
  if (!here && !there) return (int)syscall(SYS_renameat2, at, from, to_at, to, flags);
  enter();
  int error = fault(NAME, 1);
  int result = error ? failed(error) : (int)syscall(SYS_renameat2, at, from, to_at, to, flags);
  if (!result) record(R_RENAME, 0, 0, 0, full, other, strlen(other));
  leave();
  return result;
}
int renameat(int at, const char *from, int to_at, const char *to) {
  return renameat2(at, from, to_at, to, 0);
}
int rename(const char *from, const char *to) { return renameat2(AT_FDCWD, from, AT_FDCWD, to, 0); }

int linkat(int at, const char *from, int to_at, const char *to, int flags) {
  char full[PATH_MAX], other[PATH_MAX];
  absolute(at, from, full);
  if (!watched_path(to_at, to, other)) return (int)syscall(SYS_linkat, at, from, to_at, to, flags);
  enter();
  int error = fault(NAME, 1);
  if (!error) error = no_room();
  int result = error ? failed(error) : (int)syscall(SYS_linkat, at, from, to_at, to, flags);
  if (!result) record(R_LINK, 0, 0, 0, full, other, strlen(other));
  leave();
  return result;
}
int link(const char *from, const char *to) { return linkat(AT_FDCWD, from, AT_FDCWD, to, 0); }

int unlinkat(int at, const char *path, int flags) {
  char full[PATH_MAX];
  if (!watched_path(at, path, full)) return (int)syscall(SYS_unlinkat, at, path, flags);
  enter();
  int error = fault(NAME, 1);
  int result = error ? failed(error) : (int)syscall(SYS_unlinkat, at, path, flags);
  if (!result) record(flags & AT_REMOVEDIR ? R_RMDIR : R_UNLINK, 0, 0, 0, full, NULL, 0);
  leave();
  return result;
}
int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }
int rmdir(const char *path) { return unlinkat(AT_FDCWD, path, AT_REMOVEDIR); }

int mkdirat(int at, const char *path, mode_t mode) {
  char full[PATH_MAX];
  if (!watched_path(at, path, full)) return (int)syscall(SYS_mkdirat, at, path, mode);
  enter();
  int error = fault(NAME, 1);
  if (!error) error = no_room();
  int result = error ? failed(error) : (int)syscall(SYS_mkdirat, at, path, mode);
  if (!result) record(R_MKDIR, 0, 0, 0, full, NULL, 0);
  leave();
  return result;
}
int mkdir(const char *path, mode_t mode) { return mkdirat(AT_FDCWD, path, mode); }

/* --- the clock ------------------------------------------------------------------------------ */
static int64_t wrong_by(void) {
  int64_t by = 0;
  for (int i = 0; active && i < plan.jumps; i++)
    if (counts->syncs >= plan.jump_at[i]) by = plan.jump_to[i];
  return by;
}
int clock_gettime(clockid_t which, struct timespec *at) {
  int result = (int)syscall(SYS_clock_gettime, which, at);
  if (!result && which == CLOCK_REALTIME && active && plan.jumps) {
    int64_t by = wrong_by(), nanoseconds = at->tv_nsec + by % 1000000LL * 1000;
    at->tv_sec += by / 1000000LL;
    if (nanoseconds < 0) { nanoseconds += 1000000000LL; at->tv_sec--; }
    if (nanoseconds >= 1000000000LL) { nanoseconds -= 1000000000LL; at->tv_sec++; }
    at->tv_nsec = nanoseconds;
  }
  return result;
}
int gettimeofday(struct timeval *at, void *zone) {
  struct timespec now;
  (void)zone;
  int result = clock_gettime(CLOCK_REALTIME, &now);
  if (at) { at->tv_sec = now.tv_sec; at->tv_usec = now.tv_nsec / 1000; }
  return result;
}
time_t time(time_t *out) {
  struct timespec now;
  clock_gettime(CLOCK_REALTIME, &now);
  if (out) *out = now.tv_sec;
  return now.tv_sec;
}
