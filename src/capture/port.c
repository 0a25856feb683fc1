/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * port.c: opening, setting, reading and giving back.
 *
 * The library opens the port and sets speed and frame, which takes care of unusual speeds. All else is done on its
 * descriptor, since the library (0.1.1) neither sets RTS/CTS nor clears what a former program left, never says that a
 * device has vanished, and waits with select(), which ends at descriptor 1023.
 */
#include "port.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/time.h>
#include <termios.h>
#include <unistd.h>

#include "holder.h"
#include "port_failure.h"

enum { CLOSE_MOST_US = 100000 };

struct port {
	struct sp_port *sp; /* NULL for a pseudo-terminal */
	int fd;             /* the library's own, or lock */
	int lock;           /* opened first and locked: the library can't be told to lock before it changes anything */
	bool written;
	struct port_settings settings;
	struct termios as_set;
	char path[PORT_PATH];
};

/* Flags of every terminal that has to let all bytes through. */
enum {
	INPUT_OFF = IGNBRK | BRKINT | IGNPAR | ISTRIP | INLCR | IGNCR | ICRNL | IXANY,
	FRAME = CSIZE | CSTOPB | PARENB | PARODD | CMSPAR,
	LOCAL_OFF = ICANON | ECHO | ECHOE | ECHOK | ECHONL | ISIG | IEXTEN | TOSTOP,
};

const char *port_settings_print(char *out, size_t size, const struct port_settings *settings)
{
	static const char letters[] = { 'N', 'E', 'O', 'M', 'S' };
	const char *flow = settings->flow == FLOW_NONE ? "" : flow_name(settings->flow);

	snprintf(out, size, "%d %d%c%d%s%s", settings->baud, settings->data_bits, letters[settings->parity],
	         settings->stop_bits, flow[0] ? " " : "", flow);
	return out;
}

enum port_failure port_busy(struct port_error *error, const char *path, const struct stat *file)
{
	struct holder holder;

	if (holder_find(&holder, file))
		return port_fail(error, PORT_BUSY, "%s is in use by another program: %s (process %ld)", path,
		                 holder.command, (long)holder.pid);
	return port_fail(error, PORT_BUSY, "%s is in use by another program", path);
}

enum port_failure port_refuse_twice(struct port_error *error, const char *path, const struct stat *file)
{
	struct holder holder;

	if (!holder_is_self(&holder, file))
		return PORT_OK;
	return port_fail(error, PORT_TWICE, "%s is the same device as %s, which this program reads already", path,
	                 holder.path);
}

/* A terminal that this program itself is run from would lose its keys. */
static bool is_own_terminal(const struct stat *file)
{
	for (int fd = 0; fd <= 2; fd++) {
		struct stat other;

		if (fstat(fd, &other) == 0 && S_ISCHR(other.st_mode) && other.st_rdev == file->st_rdev)
			return true;
	}
	return false;
}

static enum port_failure open_failed(struct port_error *error, const char *path, const struct stat *file)
{
	switch (errno) {
	case EACCES:
	case EPERM:
		return port_denied(error, path);
	case EBUSY:
		return port_busy(error, path, file);
	case ENOENT:
	case ENXIO:
	case ENODEV:
		return port_absent(error, path);
	default:
		return port_fail(error, PORT_FAILED, "%s: %s", path, strerror(errno));
	}
}

/* Opens the device without touching its settings, and takes it for this program. */
static enum port_failure port_lock(struct port *port, const struct port_name *name, bool writable,
                                   struct port_error *error)
{
	struct stat file = { .st_mode = S_IFCHR, .st_rdev = name->device };
	enum port_failure failure = port_refuse_twice(error, name->path, &file);
	int exclusive = 0;

	if (failure != PORT_OK)
		return failure;
	if (is_own_terminal(&file))
		return port_fail(error, PORT_CONSOLE, "%s is the terminal that this program was started from",
		                 name->path);
	port->lock = open(name->path, (writable ? O_RDWR : O_RDONLY) | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
	if (port->lock < 0)
		return open_failed(error, name->path, &file);
	if (fstat(port->lock, &file) != 0 || file.st_rdev != name->device)
		return port_fail(error, PORT_ABSENT, "%s became another device meanwhile", name->path);
	if (flock(port->lock, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK)
		return port_busy(error, name->path, &file);
	/* root may open what is taken; a pseudo-terminal remains so after its taker died, and says nothing by it */
	if (!port_is_pseudo(name->device) && ioctl(port->lock, TIOCGEXCL, &exclusive) == 0 && exclusive)
		return port_busy(error, name->path, &file);
	return PORT_OK;
}

static enum port_failure library_failed(struct port_error *error, const char *path, const char *what,
                                        enum sp_return result)
{
	if (result == SP_ERR_FAIL)
		return port_fail(error, PORT_FAILED, "%s: %s: %s", path, what, strerror(errno));
	return port_fail(error, PORT_FAILED, "%s: %s: %s", path, what,
	                 result == SP_ERR_SUPP ? "not supported" :
	                 result == SP_ERR_MEM  ? "no memory" :
	                                         "not a port that the system lists (yet)");
}

static enum port_failure library_open(struct port *port, const struct port_name *name, bool writable,
                                      struct port_error *error)
{
	enum sp_return result;
	int modem;

	if (ioctl(port->lock, TIOCMGET, &modem) != 0 && (errno == ENOTTY || errno == EINVAL))
		return port_fail(error, PORT_NO_MODEM,
		                 "%s is there, but its driver knows no modem lines, which are needed to open it as a "
		                 "serial port",
		                 name->path);
	result = sp_get_port_by_name(name->path, &port->sp);
	if (result != SP_OK) {
		port->sp = NULL;
		return library_failed(error, name->path, "finding the port", result);
	}
	result = sp_open(port->sp, writable ? SP_MODE_READ_WRITE : SP_MODE_READ);
	if (result != SP_OK) {
		enum port_failure failure = library_failed(error, name->path, "opening", result);

		sp_free_port(port->sp);
		port->sp = NULL;
		return failure;
	}
	sp_get_port_handle(port->sp, &port->fd);
	fcntl(port->fd, F_SETFD, FD_CLOEXEC);
	if (!port_is_pseudo(name->device))
		ioctl(port->fd, TIOCEXCL);
	return PORT_OK;
}

static enum sp_parity parity_of(enum parity parity)
{
	switch (parity) {
	case PARITY_NONE:
		return SP_PARITY_NONE;
	case PARITY_EVEN:
		return SP_PARITY_EVEN;
	case PARITY_ODD:
		return SP_PARITY_ODD;
	case PARITY_MARK:
		return SP_PARITY_MARK;
	case PARITY_SPACE:
		return SP_PARITY_SPACE;
	}
	return SP_PARITY_INVALID;
}

static enum port_failure setting_refused(const struct port *port, struct port_error *error, const char *what)
{
	char text[PORT_SETTINGS_TEXT];

	return port_fail(error, PORT_SETTINGS, "%s does not take its settings (%s): %s", port->path,
	                 port_settings_print(text, sizeof(text), &port->settings), what);
}

static enum port_failure frame_set(struct port *port, struct port_error *error)
{
	const struct port_settings *settings = &port->settings;

	if (sp_set_baudrate(port->sp, settings->baud) != SP_OK)
		return setting_refused(port, error, "the speed is refused");
	if (sp_set_bits(port->sp, settings->data_bits) != SP_OK)
		return setting_refused(port, error, "the number of data bits is refused");
	if (sp_set_parity(port->sp, parity_of(settings->parity)) != SP_OK)
		return setting_refused(port, error, "the parity is refused");
	if (sp_set_stopbits(port->sp, settings->stop_bits) != SP_OK)
		return setting_refused(port, error, "the number of stop bits is refused");
	return PORT_OK;
}

/* Raised by the kernel at the opening; lowered here where the meter wants that. With RTS/CTS the driver has RTS. */
static enum port_failure lines_set(struct port *port, struct port_error *error)
{
	const struct port_settings *settings = &port->settings;

	if (sp_set_dtr(port->sp, settings->dtr ? SP_DTR_ON : SP_DTR_OFF) != SP_OK)
		return setting_refused(port, error, "DTR can't be set");
	if (settings->flow != FLOW_RTSCTS && sp_set_rts(port->sp, settings->rts ? SP_RTS_ON : SP_RTS_OFF) != SP_OK)
		return setting_refused(port, error, "RTS can't be set");
	return PORT_OK;
}

/* What terminal has to be like, on top of speed and frame. */
static void flags_make(struct termios *terminal, const struct port *port)
{
	tcflag_t pausing = port->settings.flow == FLOW_XONXOFF && port->sp ? IXON | IXOFF : 0;

	terminal->c_iflag &= ~(tcflag_t)(INPUT_OFF | IXON | IXOFF | INPCK | PARMRK | CRTSCTS);
	terminal->c_iflag |= pausing;
	terminal->c_oflag &= ~(tcflag_t)OPOST;
	terminal->c_lflag &= ~(tcflag_t)LOCAL_OFF;
	terminal->c_cflag |= CREAD | CLOCAL;
	terminal->c_cc[VMIN] = 1; /* so that a read of 0 is never "nothing yet" */
	terminal->c_cc[VTIME] = 0;
	if (!port->sp)
		return;
	terminal->c_iflag |= INPCK | PARMRK;
	terminal->c_cflag |= HUPCL;
	terminal->c_cflag &= ~(tcflag_t)CRTSCTS;
	if (port->settings.flow == FLOW_RTSCTS)
		terminal->c_cflag |= CRTSCTS;
}

static bool same_processing(const struct termios *a, const struct termios *b)
{
	return a->c_iflag == b->c_iflag && ((a->c_oflag ^ b->c_oflag) & OPOST) == 0 &&
	       ((a->c_lflag ^ b->c_lflag) & LOCAL_OFF) == 0 && a->c_cc[VMIN] == b->c_cc[VMIN] &&
	       a->c_cc[VTIME] == b->c_cc[VTIME];
}

/* Sets the flags and reads back what became of them, into as_set. */
static enum port_failure flags_set(struct port *port, struct port_error *error)
{
	struct termios wanted;

	if (tcgetattr(port->fd, &wanted) != 0)
		return port_fail(error, PORT_FAILED, "%s: reading its settings: %s", port->path, strerror(errno));
	flags_make(&wanted, port);
	if (tcsetattr(port->fd, TCSANOW, &wanted) != 0 || tcgetattr(port->fd, &port->as_set) != 0)
		return port_fail(error, PORT_FAILED, "%s: setting it: %s", port->path, strerror(errno));
	if (!same_processing(&wanted, &port->as_set))
		return setting_refused(port, error, "its flow control or input processing can't be set");
	if (port->sp && ((wanted.c_cflag ^ port->as_set.c_cflag) & CRTSCTS) != 0)
		return setting_refused(port, error, "it has no flow control by RTS/CTS, or can't be without");
	return PORT_OK;
}

/* The speed in force, whether or not termios has a constant for it; -1: not to be had. */
static int speed_read(struct port *port)
{
	struct sp_port_config *config;
	int baud = -1;

	if (sp_new_config(&config) != SP_OK)
		return -1;
	if (sp_get_config(port->sp, config) != SP_OK || sp_get_config_baudrate(config, &baud) != SP_OK)
		baud = -1;
	sp_free_config(config);
	return baud;
}

/* The flags of a frame; not asked of the library, which takes no parity for unknown unless IGNPAR is set. */
static tcflag_t frame_flags(const struct port_settings *settings)
{
	static const tcflag_t parities[] = {
		[PARITY_NONE] = 0,
		[PARITY_EVEN] = PARENB,
		[PARITY_ODD] = PARENB | PARODD,
		[PARITY_MARK] = PARENB | PARODD | CMSPAR,
		[PARITY_SPACE] = PARENB | CMSPAR,
	};

	return (settings->data_bits == 7 ? CS7 : CS8) | (settings->stop_bits == 2 ? CSTOPB : 0) |
	       parities[settings->parity];
}

static enum port_failure frame_verify(struct port *port, struct port_error *error)
{
	tcflag_t differs = (port->as_set.c_cflag ^ frame_flags(&port->settings)) & FRAME;
	int baud = speed_read(port);
	char text[80];

	if (baud < 0)
		return port_fail(error, PORT_FAILED, "%s: reading its speed back: %s", port->path, strerror(errno));
	snprintf(text, sizeof(text), "its speed stays at %d", baud);
	/* chips divide a clock, and don't meet every speed; a receiver bears 2 % */
	if (abs(baud - port->settings.baud) > port->settings.baud / 50)
		return setting_refused(port, error, text);
	if (differs & CSIZE)
		return setting_refused(port, error, "it stays at another number of data bits");
	if (differs & CSTOPB)
		return setting_refused(port, error, "it stays at another number of stop bits");
	/* without PARENB, what kind it would be says nothing */
	if (differs & (port->settings.parity == PARITY_NONE ? PARENB : PARENB | PARODD | CMSPAR))
		return setting_refused(port, error, "it stays at another parity");
	return PORT_OK;
}

static enum port_failure settings_apply(struct port *port, struct port_error *error)
{
	/* twice: with RTS/CTS left on, the library refuses to set RTS; and it sets a wrong flag for it itself */
	enum port_failure failure = flags_set(port, error);

	if (port->sp && failure == PORT_OK)
		failure = frame_set(port, error);
	if (port->sp && failure == PORT_OK)
		failure = lines_set(port, error);
	if (failure == PORT_OK)
		failure = flags_set(port, error);
	if (port->sp && failure == PORT_OK)
		failure = frame_verify(port, error);
	return failure;
}

enum port_failure port_open(struct port **out, const struct port_name *name, const struct port_settings *settings,
                            bool writable, struct port_error *error)
{
	struct port *port = calloc(1, sizeof(*port));
	enum port_failure failure;

	*out = NULL;
	error->text[0] = '\0';
	if (!port)
		return port_fail(error, PORT_FAILED, "no memory for %s", name->path);
	port->fd = port->lock = -1;
	port->settings = *settings;
	memcpy(port->path, name->path, sizeof(port->path));
	failure = port_lock(port, name, writable, error);
	if (failure == PORT_OK && name->pseudo)
		port->fd = port->lock;
	else if (failure == PORT_OK)
		failure = library_open(port, name, writable, error);
	if (failure == PORT_OK)
		failure = settings_apply(port, error);
	if (failure == PORT_OK)
		*out = port;
	else
		port_close(port);
	return failure;
}

static void release(struct port *port)
{
	if (port->sp) {
		ioctl(port->fd, TIOCNXCL);
		sp_close(port->sp);
		sp_free_port(port->sp);
	}
	if (port->lock >= 0)
		close(port->lock);
}

static void wake(int number)
{
	(void)number;
}

/*
 * Unsent bytes make close() wait half a minute for a device that takes none. Throwing them away is not enough: drivers
 * of USB adapters can't, once the adapter has been given them. But a signal ends that wait; one that comes before it
 * has begun is lost, so there are several.
 */
static void release_soon(struct port *port)
{
	const struct itimerval often = { .it_interval.tv_usec = CLOSE_MOST_US, .it_value.tv_usec = CLOSE_MOST_US };
	const struct itimerval never = { .it_value.tv_usec = 0 };
	struct sigaction waking = { .sa_handler = wake };
	struct sigaction before;
	sigset_t alarm, mask;

	sigemptyset(&alarm);
	sigaddset(&alarm, SIGALRM);
	sigaction(SIGALRM, &waking, &before);
	sigprocmask(SIG_UNBLOCK, &alarm, &mask);
	setitimer(ITIMER_REAL, &often, NULL);
	tcflush(port->fd, TCOFLUSH);
	release(port);
	setitimer(ITIMER_REAL, &never, NULL);
	sigprocmask(SIG_SETMASK, &mask, NULL);
	sigaction(SIGALRM, &before, NULL);
}

void port_close(struct port *port)
{
	if (!port)
		return;
	if (port->written)
		release_soon(port);
	else
		release(port);
	free(port);
}

int port_fd(const struct port *port)
{
	return port->fd;
}

bool port_marks(const struct port *port)
{
	return port->sp != NULL;
}

ssize_t port_waiting(struct port *port)
{
	int count = 0;

	return ioctl(port->fd, FIONREAD, &count) == 0 ? count : PORT_GONE;
}

ssize_t port_read(struct port *port, char *bytes, size_t size)
{
	ssize_t len = read(port->fd, bytes, size);

	if (len > 0)
		return len;
	if (len < 0 && (errno == EAGAIN || errno == EINTR))
		return PORT_NOTHING;
	/* a hung-up terminal gives 0, and EIO to whatever else it is asked */
	return len < 0 || port_waiting(port) < 0 ? PORT_GONE : PORT_NOTHING;
}

ssize_t port_write(struct port *port, const char *bytes, size_t len)
{
	ssize_t sent = write(port->fd, bytes, len);

	port->written = true;
	if (sent >= 0)
		return sent;
	return errno == EAGAIN || errno == EINTR ? PORT_NOTHING : PORT_GONE;
}

/* What differs between terminal and what was set, in words; false: nothing does. */
static bool drift_describe(struct port *port, const struct termios *now, char *out, size_t size)
{
	const struct termios *set = &port->as_set;
	size_t used = 0;

	out[0] = '\0';
	if (port->sp && (cfgetispeed(now) != cfgetispeed(set) || cfgetospeed(now) != cfgetospeed(set)))
		used += (size_t)snprintf(out + used, size - used, ", speed %d", speed_read(port));
	if (port->sp && ((now->c_cflag ^ set->c_cflag) & FRAME) != 0)
		used += (size_t)snprintf(out + used, size - used, ", data bits, parity or stop bits");
	if ((port->sp && ((now->c_cflag ^ set->c_cflag) & CRTSCTS) != 0) ||
	    ((now->c_iflag ^ set->c_iflag) & (IXON | IXOFF)) != 0)
		used += (size_t)snprintf(out + used, size - used, ", flow control");
	if (used == 0 && !same_processing(now, set))
		used += (size_t)snprintf(out + used, size - used, ", input processing");
	return used > 0;
}

enum port_drift port_recheck(struct port *port, struct port_error *error)
{
	struct port_error why;
	struct termios now;
	char drift[160];

	error->text[0] = '\0';
	if (tcgetattr(port->fd, &now) != 0)
		return PORT_VANISHED;
	if (!drift_describe(port, &now, drift, sizeof(drift)))
		return PORT_AS_SET;
	if (settings_apply(port, &why) != PORT_OK) {
		port_fail(error, PORT_SETTINGS,
		          "another program changed the settings of %s (%s); setting them again failed: %s", port->path,
		          drift + 2, why.text);
		return PORT_STUBBORN;
	}
	port_fail(error, PORT_SETTINGS,
	          "another program changed the settings of %s (%s); they are as they should be again", port->path,
	          drift + 2);
	return PORT_RESTORED;
}
