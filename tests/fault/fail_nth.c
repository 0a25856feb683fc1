/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * fail_nth.so: preloaded, makes the nth call of one function fail, once, as FAULT_CALL, FAULT_NTH and FAULT_ERRNO say, and
 * leaves the file FAULT_DONE behind when it did. Calls before main() count too. With FAULT_COUNTS it lets none fail: it adds
 * to that file, when the program ends, how many there were of each. FAULT_IN is the program's first word: the processes that
 * it starts, which are called with another one, are left alone.
 */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/mman.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

enum { KINDS = 64 };

static atomic_long seen;
static long nth;
static int wanted_errno;
static char wanted[32];
static bool ready, counts;
static struct {
	_Atomic(const char *) call;
	atomic_long count;
} kinds[KINDS];

/* The C library gives these to whatever runs before main(). */
__attribute__((constructor)) static void prepare(int argc, char **argv)
{
	const char *call = getenv("FAULT_CALL"), *number = getenv("FAULT_NTH"), *error = getenv("FAULT_ERRNO");
	const char *in = getenv("FAULT_IN");

	if (in && (argc < 2 || strcmp(argv[1], in) != 0))
		return;
	counts = getenv("FAULT_COUNTS") != NULL;
	if (!call || !number || !error || strlen(call) >= sizeof(wanted))
		return;
	memcpy(wanted, call, strlen(call) + 1);
	nth = strtol(number, NULL, 10);
	wanted_errno = (int)strtol(error, NULL, 10);
	ready = true;
}

static void count(const char *call)
{
	for (size_t i = 0; i < KINDS; i++) {
		const char *none = NULL;

		if (kinds[i].call == call || atomic_compare_exchange_strong(&kinds[i].call, &none, call)) {
			atomic_fetch_add(&kinds[i].count, 1);
			return;
		}
	}
}

__attribute__((destructor)) static void counts_write(void)
{
	char line[64];
	long fd;

	if (!counts)
		return;
	counts = false;
	fd = syscall(SYS_openat, AT_FDCWD, getenv("FAULT_COUNTS"), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
	for (size_t i = 0; i < KINDS && kinds[i].call; i++) {
		int len = snprintf(line, sizeof(line), "%s %ld\n", kinds[i].call, (long)kinds[i].count);

		syscall(SYS_write, fd, line, (size_t)len);
	}
	syscall(SYS_close, fd);
}

/* Is this the call that is to fail? */
static bool fails(const char *call)
{
	const char *done;
	long fd;

	if (counts)
		count(call);
	if (!ready || strcmp(call, wanted) != 0 || atomic_fetch_add(&seen, 1) + 1 != nth)
		return false;
	done = getenv("FAULT_DONE");
	fd = done ? syscall(SYS_openat, AT_FDCWD, done, O_WRONLY | O_CREAT | O_CLOEXEC, 0600) : -1;
	if (fd >= 0)
		syscall(SYS_close, fd);
	errno = wanted_errno;
	return true;
}

/* The function of the library below this one. */
#define BELOW(name)                                    \
	static __typeof__(&name) below;                \
	if (!below) {                                  \
		void *found = dlsym(RTLD_NEXT, #name); \
		memcpy(&below, &found, sizeof(below)); \
	}

static mode_t mode_of(int flags, va_list args)
{
	return flags & (O_CREAT | O_TMPFILE) ? va_arg(args, mode_t) : 0;
}

int open(const char *path, int flags, ...)
{
	va_list args;
	mode_t mode;
	BELOW(open)

	va_start(args, flags);
	mode = mode_of(flags, args);
	va_end(args);
	return fails("open") ? -1 : below(path, flags, mode);
}

int open64(const char *path, int flags, ...)
{
	va_list args;
	mode_t mode;
	BELOW(open64)

	va_start(args, flags);
	mode = mode_of(flags, args);
	va_end(args);
	return fails("open") ? -1 : below(path, flags, mode);
}

FILE *fopen(const char *path, const char *mode)
{
	BELOW(fopen)
	return fails("fopen") ? NULL : below(path, mode);
}

FILE *fopen64(const char *path, const char *mode)
{
	BELOW(fopen64)
	return fails("fopen") ? NULL : below(path, mode);
}

int mkstemp(char *name)
{
	BELOW(mkstemp)
	return fails("mkstemp") ? -1 : below(name);
}

int mkostemp(char *name, int flags)
{
	BELOW(mkostemp)
	return fails("mkstemp") ? -1 : below(name, flags);
}

FILE *tmpfile(void)
{
	BELOW(tmpfile)
	return fails("mkstemp") ? NULL : below();
}

ssize_t read(int fd, void *buffer, size_t size)
{
	BELOW(read)
	return fails("read") ? -1 : below(fd, buffer, size);
}

ssize_t write(int fd, const void *buffer, size_t size)
{
	BELOW(write)
	return fails("write") ? -1 : below(fd, buffer, size);
}

size_t fwrite(const void *buffer, size_t size, size_t count, FILE *file)
{
	BELOW(fwrite)
	if (!fails("fwrite"))
		return below(buffer, size, count, file);
	file->_flags |= _IO_ERR_SEEN; /* as ferror() then tells */
	return 0;
}

int fflush(FILE *file)
{
	BELOW(fflush)
	if (!fails("fflush"))
		return below(file);
	if (file)
		file->_flags |= _IO_ERR_SEEN;
	return EOF;
}

/* Closed all the same, as the kernel does where it then tells of an error. */
int close(int fd)
{
	BELOW(close)
	if (!fails("close"))
		return below(fd);
	below(fd);
	errno = wanted_errno;
	return -1;
}

int fclose(FILE *file)
{
	BELOW(fclose)
	if (!fails("fclose"))
		return below(file);
	below(file);
	errno = wanted_errno;
	return EOF;
}

ssize_t pread(int fd, void *buffer, size_t size, off_t at)
{
	BELOW(pread)
	return fails("pread") ? -1 : below(fd, buffer, size, at);
}

ssize_t pread64(int fd, void *buffer, size_t size, off64_t at)
{
	BELOW(pread64)
	return fails("pread") ? -1 : below(fd, buffer, size, at);
}

ssize_t pwrite64(int fd, const void *buffer, size_t size, off64_t at)
{
	BELOW(pwrite64)
	return fails("pwrite") ? -1 : below(fd, buffer, size, at);
}

int fsync(int fd)
{
	BELOW(fsync)
	return fails("fsync") ? -1 : below(fd);
}

int fdatasync(int fd)
{
	BELOW(fdatasync)
	return fails("fdatasync") ? -1 : below(fd);
}

int rename(const char *from, const char *to)
{
	BELOW(rename)
	return fails("rename") ? -1 : below(from, to);
}

int renameat2(int from_folder, const char *from, int to_folder, const char *to, unsigned int flags)
{
	BELOW(renameat2)
	return fails("rename") ? -1 : below(from_folder, from, to_folder, to, flags);
}

int link(const char *from, const char *to)
{
	BELOW(link)
	return fails("link") ? -1 : below(from, to);
}

int unlink(const char *path)
{
	BELOW(unlink)
	return fails("unlink") ? -1 : below(path);
}

int fstat(int fd, struct stat *out)
{
	BELOW(fstat)
	return fails("fstat") ? -1 : below(fd, out);
}

int ftruncate64(int fd, off64_t size)
{
	BELOW(ftruncate64)
	return fails("ftruncate") ? -1 : below(fd, size);
}

int mkdir(const char *path, mode_t mode)
{
	BELOW(mkdir)
	return fails("mkdir") ? -1 : below(path, mode);
}

/* These two tell their error by what they return. */
int posix_spawnp(pid_t *pid, const char *file, const posix_spawn_file_actions_t *actions,
                 const posix_spawnattr_t *attributes, char *const argv[], char *const environment[])
{
	BELOW(posix_spawnp)
	return fails("spawn") ? wanted_errno : below(pid, file, actions, attributes, argv, environment);
}

int posix_spawn(pid_t *pid, const char *file, const posix_spawn_file_actions_t *actions,
                const posix_spawnattr_t *attributes, char *const argv[], char *const environment[])
{
	BELOW(posix_spawn)
	return fails("spawn") ? wanted_errno : below(pid, file, actions, attributes, argv, environment);
}

int pipe2(int ends[2], int flags)
{
	BELOW(pipe2)
	return fails("pipe") ? -1 : below(ends, flags);
}

int poll(struct pollfd *fds, nfds_t count, int timeout)
{
	BELOW(poll)
	return fails("poll") ? -1 : below(fds, count, timeout);
}

int signalfd(int fd, const sigset_t *mask, int flags)
{
	BELOW(signalfd)
	return fails("signalfd") ? -1 : below(fd, mask, flags);
}

int inotify_init1(int flags)
{
	BELOW(inotify_init1)
	return fails("inotify") ? -1 : below(flags);
}

int listen(int fd, int waiting)
{
	BELOW(listen)
	return fails("listen") ? -1 : below(fd, waiting);
}

int accept4(int fd, __SOCKADDR_ARG address, socklen_t *size, int flags)
{
	BELOW(accept4)
	return fails("accept") ? -1 : below(fd, address, size, flags);
}

ssize_t send(int fd, const void *buffer, size_t size, int flags)
{
	BELOW(send)
	return fails("send") ? -1 : below(fd, buffer, size, flags);
}

ssize_t recv(int fd, void *buffer, size_t size, int flags)
{
	BELOW(recv)
	return fails("recv") ? -1 : below(fd, buffer, size, flags);
}

int socket(int domain, int type, int protocol)
{
	BELOW(socket)
	return fails("socket") ? -1 : below(domain, type, protocol);
}

int bind(int fd, __CONST_SOCKADDR_ARG address, socklen_t size)
{
	BELOW(bind)
	return fails("bind") ? -1 : below(fd, address, size);
}

void *mmap64(void *address, size_t size, int protection, int flags, int fd, off64_t at)
{
	BELOW(mmap64)
	return fails("mmap") ? MAP_FAILED : below(address, size, protection, flags, fd, at);
}

/* The C library's own names: dlsym() asks for memory itself. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *old, size_t size);

void *malloc(size_t size)
{
	return fails("malloc") ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
	return fails("malloc") ? NULL : __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
	return fails("malloc") ? NULL : __libc_realloc(old, size);
}
