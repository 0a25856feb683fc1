/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "port_list.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "number.h"

enum { WORD = 256 };

/* Where the tables are, and what every port is compared with. */
struct tables {
	const char *tty;
	const char *dev;
	char consoles[WORD + 2]; /* names with blanks around them */
};

/* The first line of folder/name without blanks around it, in out; false, out "", where there is none. */
static bool attribute_read(char out[WORD], const char *folder, const char *name)
{
	char path[PATH_MAX];
	struct slice text;
	ssize_t len = -1;
	int fd;

	out[0] = '\0';
	if ((size_t)snprintf(path, sizeof(path), "%s/%s", folder, name) >= sizeof(path))
		return false;
	fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
	if (fd >= 0) {
		len = read(fd, out, WORD - 1);
		close(fd);
	}
	if (len < 0) {
		out[0] = '\0';
		return false;
	}
	out[len] = '\0';
	out[strcspn(out, "\n")] = '\0';
	text = slice_trim(slice_from(out));
	memmove(out, text.text, text.len);
	out[text.len] = '\0';
	return true;
}

static unsigned hex_parse(const char *text)
{
	unsigned value = 0;

	for (; *text; text++) {
		const char *digits = "0123456789abcdef";
		const char *found = strchr(digits, *text | 0x20);

		if (!found || value > 0xfff)
			return 0;
		value = value * 16 + (unsigned)(found - digits);
	}
	return value;
}

static bool device_parse(dev_t *out, const char *text)
{
	const char *colon = strchr(text, ':');
	long long major_number;
	long long minor_number;

	if (!colon || !number_parse_count(&major_number, (struct slice){ text, (size_t)(colon - text) }) ||
	    !number_parse_count(&minor_number, slice_from(colon + 1)))
		return false;
	*out = makedev((unsigned)major_number, (unsigned)minor_number);
	return true;
}

static const char *last_part(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash ? slash + 1 : path;
}

static bool copy_text(struct port_list *list, const char **out, const char *text)
{
	*out = arena_copy(&list->memory, slice_from(text)).text;
	return *out != NULL;
}

/* The link in folder that leads to device, the first by name; "" for none. */
static bool link_find(struct port_list *list, const char **out, const struct tables *tables, const char *kind,
                      dev_t device)
{
	char folder[PATH_MAX];
	char best[PATH_MAX] = "";
	struct dirent *entry;
	DIR *dir;

	snprintf(folder, sizeof(folder), "%s/serial/%s", tables->dev, kind);
	dir = opendir(folder);
	while (dir && (entry = readdir(dir)) != NULL) {
		char path[PATH_MAX];
		struct stat node;

		if ((size_t)snprintf(path, sizeof(path), "%s/%s", folder, entry->d_name) >= sizeof(path) ||
		    stat(path, &node) != 0 || !S_ISCHR(node.st_mode) || node.st_rdev != device)
			continue;
		if (!best[0] || strcmp(path, best) < 0)
			memcpy(best, path, strlen(path) + 1);
	}
	if (dir)
		closedir(dir);
	return copy_text(list, out, best);
}

static bool usb_read(struct port_list *list, struct port_info *port, const char *folder)
{
	char word[WORD];

	port->usb = true;
	attribute_read(word, folder, "idVendor");
	port->vendor_id = hex_parse(word);
	attribute_read(word, folder, "idProduct");
	port->product_id = hex_parse(word);
	attribute_read(word, folder, "manufacturer");
	if (!copy_text(list, &port->manufacturer, word))
		return false;
	attribute_read(word, folder, "product");
	if (!copy_text(list, &port->product, word))
		return false;
	attribute_read(word, folder, "serial");
	return copy_text(list, &port->serial, word) && copy_text(list, &port->socket, last_part(folder));
}

/* Goes up from the device's folder to that of its USB adapter, if it has one. */
static bool adapter_read(struct port_list *list, struct port_info *port, char *folder)
{
	char word[WORD];
	char *slash;

	for (; (slash = strrchr(folder, '/')) != NULL && slash != folder; *slash = '\0') {
		if (!port->interface[0] && attribute_read(word, folder, "bInterfaceNumber") &&
		    !copy_text(list, &port->interface, word))
			return false;
		if (attribute_read(word, folder, "idVendor"))
			return usb_read(list, port, folder);
	}
	return true;
}

static bool driver_read(struct port_list *list, struct port_info *port, const char *folder)
{
	char path[PATH_MAX];
	char target[PATH_MAX];
	ssize_t len = -1;

	if ((size_t)snprintf(path, sizeof(path), "%s/driver", folder) < sizeof(path))
		len = readlink(path, target, sizeof(target) - 1);
	target[len > 0 ? len : 0] = '\0';
	return copy_text(list, &port->driver, last_part(target));
}

static bool device_find(struct port_info *port, const char *folder)
{
	char word[WORD];
	struct stat node;

	port->present = stat(port->path, &node) == 0 && S_ISCHR(node.st_mode);
	if (port->present) {
		port->device = node.st_rdev;
		return true;
	}
	return attribute_read(word, folder, "dev") && device_parse(&port->device, word);
}

/* Is name a port, rather than a console, a pseudo-terminal's master or a place for a chip that is not there? */
static bool is_port(const char *folder, char *device_folder)
{
	char path[PATH_MAX];
	char word[WORD];

	if ((size_t)snprintf(path, sizeof(path), "%s/device", folder) >= sizeof(path) || !realpath(path, device_folder))
		return false;
	/* PORT_UNKNOWN of <linux/serial_core.h>: the kernel keeps a name, and found no chip */
	return !attribute_read(word, folder, "type") || strcmp(word, "0") != 0;
}

static bool list_grow(struct port_list *list)
{
	struct port_info *more;

	if ((list->count & (list->count - 1)) != 0 && list->count > 0)
		return true;
	more = realloc(list->items, (list->count ? list->count * 2 : 1) * sizeof(*more));
	if (more)
		list->items = more;
	return more != NULL;
}

static enum status port_add(struct port_list *list, const struct tables *tables, const char *name)
{
	struct port_info port = { .driver = "", .by_id = "", .by_path = "", .manufacturer = "", .product = "" };
	char folder[PATH_MAX];
	char device_folder[PATH_MAX];
	char padded[WORD + 3];

	port.serial = port.interface = port.socket = "";
	if ((size_t)snprintf(folder, sizeof(folder), "%s/%s", tables->tty, name) >= sizeof(folder) ||
	    !is_port(folder, device_folder))
		return STATUS_OK;
	port.path = arena_print(&list->memory, "%s/%s", tables->dev, name);
	if (!port.path)
		return STATUS_MEMORY;
	if (!device_find(&port, folder))
		return STATUS_OK;
	snprintf(padded, sizeof(padded), " %s ", name);
	port.console = strstr(tables->consoles, padded) != NULL;
	if (!driver_read(list, &port, device_folder) || !adapter_read(list, &port, device_folder) ||
	    !link_find(list, &port.by_id, tables, "by-id", port.device) ||
	    !link_find(list, &port.by_path, tables, "by-path", port.device) || !list_grow(list))
		return STATUS_MEMORY;
	list->items[list->count++] = port;
	return STATUS_OK;
}

static int by_path_order(const void *a, const void *b)
{
	return strverscmp(((const struct port_info *)a)->path, ((const struct port_info *)b)->path);
}

enum status port_list_read_at(struct port_list *list, const char *tty_folder, const char *device_folder,
                              struct error *error)
{
	struct tables tables = { .tty = tty_folder, .dev = device_folder };
	char active[WORD];
	char path[PATH_MAX];
	enum status status = STATUS_OK;
	struct dirent *entry;
	DIR *dir;

	*list = (struct port_list)PORT_LIST_INIT;
	dir = opendir(tty_folder);
	if (!dir)
		return error_set_errno(error, STATUS_IO, "%s, where the kernel lists the ports", tty_folder);
	snprintf(path, sizeof(path), "%s/console", tty_folder);
	attribute_read(active, path, "active");
	snprintf(tables.consoles, sizeof(tables.consoles), " %s ", active);
	while (status == STATUS_OK && (entry = readdir(dir)) != NULL)
		if (entry->d_name[0] != '.')
			status = port_add(list, &tables, entry->d_name);
	closedir(dir);
	if (status != STATUS_OK) {
		port_list_release(list);
		return error_set(error, status, "no memory for the list of ports");
	}
	if (list->count > 0)
		qsort(list->items, list->count, sizeof(*list->items), by_path_order);
	return STATUS_OK;
}

enum status port_list_read(struct port_list *list, struct error *error)
{
	return port_list_read_at(list, "/sys/class/tty", "/dev", error);
}

const struct port_info *port_list_find(const struct port_list *list, dev_t device)
{
	for (size_t i = 0; i < list->count; i++)
		if (list->items[i].device == device)
			return &list->items[i];
	return NULL;
}

static bool says_the_same(const struct port_info *a, const struct port_info *b)
{
	return a->usb && b->usb && a->vendor_id == b->vendor_id && a->product_id == b->product_id &&
	       strcmp(a->manufacturer, b->manufacturer) == 0 && strcmp(a->product, b->product) == 0 &&
	       strcmp(a->serial, b->serial) == 0 && strcmp(a->interface, b->interface) == 0 &&
	       strcmp(a->socket, b->socket) != 0;
}

const struct port_info *port_list_twin(const struct port_list *list, const struct port_info *of,
                                       const struct port_info *after)
{
	size_t i = after ? (size_t)(after - list->items) + 1 : 0;

	for (; i < list->count; i++)
		if (&list->items[i] != of && says_the_same(&list->items[i], of))
			return &list->items[i];
	return NULL;
}

static int info_print(char *out, size_t size, const struct port_info *port)
{
	const char *gap = port->manufacturer[0] && port->product[0] ? " " : "";
	const char *comma = port->manufacturer[0] || port->product[0] ? ", " : "";

	if (!port->usb)
		return snprintf(out, size, "%s", port->path);
	return snprintf(out, size, "%s (USB %04x:%04x%s%s%s%s)", port->path, port->vendor_id, port->product_id, comma,
	                port->manufacturer, gap, port->product);
}

const char *port_list_print(char *out, size_t size, const struct port_list *list)
{
	size_t used = 0;

	snprintf(out, size, "none");
	for (size_t i = 0; i < list->count; i++) {
		char one[WORD * 3];
		int len = info_print(one, sizeof(one), &list->items[i]);

		if (!list->items[i].present || list->items[i].console)
			continue;
		if (len < 0 || used + (size_t)len + 8 > size) {
			if (used > 0 && used + 6 <= size)
				memcpy(out + used, ", ...", 6);
			break;
		}
		used += (size_t)snprintf(out + used, size - used, "%s%s", used ? ", " : "", one);
	}
	return out;
}

void port_list_release(struct port_list *list)
{
	free(list->items);
	arena_release(&list->memory);
	*list = (struct port_list)PORT_LIST_INIT;
}
