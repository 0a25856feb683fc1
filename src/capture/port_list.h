/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * port_list.h: which serial ports there are, from the kernel's tables. No port is opened: opening one raises its modem
 * lines, which resets some instruments, and disturbs whoever is using it.
 */
#ifndef BREWSPREAD_PORT_LIST_H
#define BREWSPREAD_PORT_LIST_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "arena.h"
#include "slice.h"
#include "status.h"

struct port_info {
	const char *path;   /* "/dev/ttyUSB0" */
	const char *driver; /* "ftdi_sio", "cdc_acm", "serial8250", …; "" */
	dev_t device;
	bool present; /* the node in /dev is there */
	bool console; /* the system's console is on it */

	/* The link in /dev/serial that stays the same when the port comes back under another name; "" */
	const char *by_id;   /* by what the adapter says of itself: the same at every socket */
	const char *by_path; /* by the socket it is plugged into */

	/* What the adapter says of itself; "" */
	bool usb;
	unsigned vendor_id, product_id; /* 0 unless usb */
	const char *manufacturer, *product;
	const char *serial;
	const char *interface; /* two hexadecimal digits, of several in one adapter */
	const char *socket;    /* where it is plugged in, as the kernel counts: "1-1.2" */
};

struct port_list {
	struct port_info *items; /* by path, numbers in order: ttyUSB2 before ttyUSB10 */
	size_t count;
	struct arena memory;
};

#define PORT_LIST_INIT        \
	{                     \
		.items = NULL \
	}

/* Reads it anew; list is PORT_LIST_INIT or was released. STATUS_IO: error; STATUS_MEMORY. */
enum status port_list_read(struct port_list *list, struct error *error) MUST_USE;

/* As port_list_read(), with the kernel's table of terminals and the folder of device files at other places. */
enum status port_list_read_at(struct port_list *list, const char *tty_folder, const char *device_folder,
                              struct error *error) MUST_USE;

/* NULL: none. */
const struct port_info *port_list_find(const struct port_list *list, dev_t device);

/*
 * Another port of list that its by-id link would fit as well, since both adapters say the same of themselves; NULL:
 * none. Start with after NULL, go on with what came.
 */
const struct port_info *port_list_twin(const struct port_list *list, const struct port_info *of,
                                       const struct port_info *after);

/*
 * "/dev/ttyUSB0 (USB 0403:6001, Bench Meter), /dev/ttyS1": those present, without consoles, cut where they do not fit;
 * "none". Returns out.
 */
const char *port_list_print(char *out, size_t size, const struct port_list *list);

void port_list_release(struct port_list *list);

#endif
