/* Lets the disk of one program fail, or writes down all that it did to it.
 *
 * Loaded before the C library (LD_PRELOAD). It looks at the files of one database alone: the file
 * that FAULTS_FILE names, what lies beside it under the same name with an ending (-wal, -journal),
 * and its directory.
 *
 * FAULTS_CONTROL names a file of eight numbers of four bytes, shared with whoever steers:
 *   0 which calls fail: 1 write, 2 sync, 4 read, 8 truncate, 16 open to write; 0: none
 *   1 with which error number
 *   2 calls that still succeed before the first that fails
 *   3 calls that fail then (4294967295: until this is changed)
 *   4 1: a write that fails does half of its work first
 *   5 of which files: 1 the database, 2 its -wal, 4 the others
 *   6 calls that failed so far (written here)
 *   7 calls that came by since the control was last set (written here)
 *
 * FAULTS_JOURNAL names a file to which every change of the files is appended, in their order; then
 * nothing is truly synced, since the journal knows what was to be. A record:
 *   1 byte what: 1 written, 2 truncated, 3 synced, 4 made, 5 unlinked, 6 directory synced
 *   1 byte of which file: 1 the database, 2 its -wal, 4 its -journal, 5 another
 *   2 bytes nothing, 4 bytes length of the data, 8 bytes place (of truncated: the new length)
 *   and the data.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

enum { NONE = 0, DB = 1, WAL = 2, SHM = 3, ROLLBACK = 4, OTHER = 5, DIRECTORY = 6 };
enum { WRITE = 1, SYNC = 2, READ = 4, TRUNCATE = 8, OPEN = 16 };
enum { WRITTEN = 1, TRUNCATED = 2, SYNCED = 3, MADE = 4, UNLINKED = 5, DIRECTORY_SYNCED = 6 };
enum { FDS = 65536 };

static pthread_mutex_t one_at_a_time = PTHREAD_MUTEX_INITIALIZER;
static unsigned char kinds[FDS];
static char file[4096], directory[4096];
static volatile uint32_t *control;
static int journal = -1;

#define REAL(result, name, ...)                                                                   \
  static result (*real_##name)(__VA_ARGS__);                                                      \
  static void find_##name(void) {                                                                 \
    if (!real_##name) *(void **)&real_##name = dlsym(RTLD_NEXT, #name);                           \
  }

REAL(int, open, const char *, int, ...)
REAL(int, open64, const char *, int, ...)
REAL(int, openat, int, const char *, int, ...)
REAL(int, close, int)
REAL(ssize_t, write, int, const void *, size_t)
REAL(ssize_t, pwrite, int, const void *, size_t, off_t)
REAL(ssize_t, pwrite64, int, const void *, size_t, off64_t)
REAL(ssize_t, writev, int, const struct iovec *, int)
REAL(ssize_t, read, int, void *, size_t)
REAL(ssize_t, pread, int, void *, size_t, off_t)
REAL(ssize_t, pread64, int, void *, size_t, off64_t)
REAL(int, fsync, int)
REAL(int, fdatasync, int)
REAL(int, ftruncate, int, off_t)
REAL(int, ftruncate64, int, off64_t)
REAL(int, unlink, const char *)

static void find_all(void) {
  find_open(), find_open64(), find_openat(), find_close(), find_write(), find_pwrite();
  find_pwrite64(), find_writev(), find_read(), find_pread(), find_pread64(), find_fsync();
  find_fdatasync(), find_ftruncate(), find_ftruncate64(), find_unlink();
}

__attribute__((constructor)) static void begin(void) {
  find_all();
  const char *name = getenv("FAULTS_FILE");
  if (name) {
    snprintf(file, sizeof file, "%s", name);
    snprintf(directory, sizeof directory, "%s", name);
    char *slash = strrchr(directory, '/');
    if (slash) *slash = 0;
  }
  if ((name = getenv("FAULTS_CONTROL"))) {
    int fd = real_open(name, O_RDWR | O_CLOEXEC);
    void *at = mmap(NULL, 32, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    if (fd < 0 || at == MAP_FAILED) abort();
    control = at;
    real_close(fd);
  }
  if ((name = getenv("FAULTS_JOURNAL"))) {
    journal = real_open(name, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (journal < 0) abort();
  }
}

static int kind_of_path(const char *path) {
  size_t length = strlen(file);
  if (!length || !path) return NONE;
  if (!strcmp(path, directory)) return DIRECTORY;
  if (strncmp(path, file, length)) return NONE;
  const char *end = path + length;
  if (!*end) return DB;
  if (!strcmp(end, "-wal")) return WAL;
  if (!strcmp(end, "-shm")) return SHM;
  if (!strcmp(end, "-journal")) return ROLLBACK;
  return OTHER;
}

static int kind_of(int fd) { return fd >= 0 && fd < FDS ? kinds[fd] : NONE; }

static int bit_of(int kind) { return kind == DB ? 1 : kind == WAL ? 2 : 4; }

/* Whether this call is to fail: then errno is set. Called by one at a time. */
static int fails(int call, int kind) {
  if (!control || !(control[0] & call) || kind == NONE || !(control[5] & bit_of(kind))) return 0;
  control[7]++;
  if (control[2]) {
    control[2]--;
    return 0;
  }
  if (!control[3]) return 0;
  if (control[3] != UINT32_MAX) control[3]--;
  control[6]++;
  errno = (int)control[1];
  return 1;
}

static int is_short(void) { return control && control[4]; }

static void note(int what, int kind, uint64_t place, const void *data, uint32_t length) {
  if (journal < 0 || kind == NONE || kind == SHM) return;
  unsigned char head[16] = {(unsigned char)what, (unsigned char)kind};
  memcpy(head + 4, &length, 4);
  memcpy(head + 8, &place, 8);
  struct iovec parts[2] = {{head, sizeof head}, {(void *)data, length}};
  ssize_t whole = (ssize_t)(sizeof head + length);
  if (real_writev(journal, parts, length ? 2 : 1) != whole) abort();
}

static void lock(void) { pthread_mutex_lock(&one_at_a_time); }

/* Gives the result back with the errno that came with it. */
static ssize_t unlock(ssize_t result) {
  int error = errno;
  pthread_mutex_unlock(&one_at_a_time);
  errno = error;
  return result;
}

static int opened(int fd, int kind, int is_new) {
  if (fd >= 0 && fd < FDS) kinds[fd] = (unsigned char)kind;
  if (fd >= 0 && is_new) note(MADE, kind, 0, NULL, 0);
  return fd;
}

static int open_any(int at, const char *path, int flags, mode_t mode) {
  int kind = kind_of_path(path);
  if (kind == NONE) {
    int fd = real_openat(at, path, flags, mode);
    if (fd >= 0 && fd < FDS) kinds[fd] = NONE;
    return fd;
  }
  lock();
  int writes = flags & (O_RDWR | O_WRONLY | O_CREAT);
  if (writes && kind != DIRECTORY && fails(OPEN, kind)) return (int)unlock(-1);
  int is_new = (flags & O_CREAT) && access(path, F_OK) != 0;
  return (int)unlock(opened(real_openat(at, path, flags, mode), kind, is_new));
}

#define MODE(flags, mode)                                                                         \
  mode_t mode = 0;                                                                                \
  if (flags & (O_CREAT | __O_TMPFILE)) {                                                          \
    va_list rest;                                                                                 \
    va_start(rest, flags);                                                                        \
    mode = va_arg(rest, mode_t);                                                                  \
    va_end(rest);                                                                                 \
  }

int open(const char *path, int flags, ...) {
  find_all();
  MODE(flags, mode)
  return open_any(AT_FDCWD, path, flags, mode);
}

int open64(const char *path, int flags, ...) {
  find_all();
  MODE(flags, mode)
  return open_any(AT_FDCWD, path, flags | O_LARGEFILE, mode);
}

int openat(int at, const char *path, int flags, ...) {
  find_all();
  MODE(flags, mode)
  return open_any(at, path, flags, mode);
}

int openat64(int at, const char *path, int flags, ...) {
  find_all();
  MODE(flags, mode)
  return open_any(at, path, flags | O_LARGEFILE, mode);
}

int close(int fd) {
  find_all();
  if (fd >= 0 && fd < FDS) kinds[fd] = NONE;
  return real_close(fd);
}

static ssize_t write_at(int fd, const void *data, size_t size, off64_t place, int is_placed) {
  int kind = kind_of(fd);
  if (kind == NONE) {
    return is_placed ? real_pwrite64(fd, data, size, place) : real_write(fd, data, size);
  }
  lock();
  if (!is_placed) place = lseek64(fd, 0, SEEK_CUR);
  int is_failing = fails(WRITE, kind);
  if (is_failing) {
    size = is_short() ? size / 2 : 0;
    if (!size) return unlock(-1);
  }
  ssize_t written = is_placed ? real_pwrite64(fd, data, size, place) : real_write(fd, data, size);
  if (written > 0) note(WRITTEN, kind, (uint64_t)place, data, (uint32_t)written);
  return unlock(written);
}

ssize_t write(int fd, const void *data, size_t size) {
  find_all();
  return write_at(fd, data, size, 0, 0);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t place) {
  find_all();
  return write_at(fd, data, size, place, 1);
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t place) {
  find_all();
  return write_at(fd, data, size, place, 1);
}

ssize_t writev(int fd, const struct iovec *parts, int count) {
  find_all();
  if (kind_of(fd) == NONE) return real_writev(fd, parts, count);
  ssize_t all = 0;
  for (int part = 0; part < count; part++) {
    ssize_t written = write_at(fd, parts[part].iov_base, parts[part].iov_len, 0, 0);
    if (written < 0) return all ? all : -1;
    all += written;
    if ((size_t)written < parts[part].iov_len) break;
  }
  return all;
}

static int read_fails(int fd) {
  if (kind_of(fd) == NONE) return 0;
  lock();
  return (int)unlock(fails(READ, kind_of(fd)));
}

ssize_t read(int fd, void *data, size_t size) {
  find_all();
  return read_fails(fd) ? -1 : real_read(fd, data, size);
}

ssize_t pread(int fd, void *data, size_t size, off_t place) {
  find_all();
  return read_fails(fd) ? -1 : real_pread(fd, data, size, place);
}

ssize_t pread64(int fd, void *data, size_t size, off64_t place) {
  find_all();
  return read_fails(fd) ? -1 : real_pread64(fd, data, size, place);
}

static int sync_any(int fd, int (*real)(int)) {
  int kind = kind_of(fd);
  if (kind == NONE) return real(fd);
  lock();
  if (fails(SYNC, kind)) return (int)unlock(-1);
  int result = journal < 0 ? real(fd) : 0;
  if (!result) note(kind == DIRECTORY ? DIRECTORY_SYNCED : SYNCED, kind, 0, NULL, 0);
  return (int)unlock(result);
}

int fsync(int fd) {
  find_all();
  return sync_any(fd, real_fsync);
}

int fdatasync(int fd) {
  find_all();
  return sync_any(fd, real_fdatasync);
}

int ftruncate64(int fd, off64_t length) {
  find_all();
  int kind = kind_of(fd);
  if (kind == NONE) return real_ftruncate64(fd, length);
  lock();
  if (fails(TRUNCATE, kind)) return (int)unlock(-1);
  int result = real_ftruncate64(fd, length);
  if (!result) note(TRUNCATED, kind, (uint64_t)length, NULL, 0);
  return (int)unlock(result);
}

int ftruncate(int fd, off_t length) { return ftruncate64(fd, length); }

int unlink(const char *path) {
  find_all();
  int kind = kind_of_path(path);
  if (kind == NONE) return real_unlink(path);
  lock();
  int result = real_unlink(path);
  if (!result) note(UNLINKED, kind, 0, NULL, 0);
  return (int)unlock(result);
}
