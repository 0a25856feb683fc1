/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_port_list.c: against invented kernel tables in a folder; made and removed by each test. */
#include "near.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "port_list.h"

static char root[256];

static void path_make(char out[PATH_MAX], const char *path)
{
	snprintf(out, PATH_MAX, "%.250s/%.3000s", root, path);
}

/* Makes the folders above path, too. */
static void folder_add(const char *path)
{
	char whole[PATH_MAX];

	path_make(whole, path);
	for (char *at = whole + strlen(root) + 1; (at = strchr(at, '/')) != NULL; at++) {
		*at = '\0';
		assert_true(mkdir(whole, 0700) == 0 || errno == EEXIST);
		*at = '/';
	}
	assert_true(mkdir(whole, 0700) == 0 || errno == EEXIST);
}

static void file_add(const char *folder, const char *name, const char *text)
{
	char path[PATH_MAX];
	char whole[PATH_MAX];
	FILE *file;

	folder_add(folder);
	snprintf(path, sizeof(path), "%.2000s/%.200s", folder, name);
	path_make(whole, path);
	file = fopen(whole, "w");
	assert_non_null(file);
	fprintf(file, "%s\n", text);
	fclose(file);
}

static void link_add(const char *folder, const char *name, const char *target)
{
	char path[PATH_MAX];
	char whole[PATH_MAX];

	folder_add(folder);
	snprintf(path, sizeof(path), "%.2000s/%.200s", folder, name);
	path_make(whole, path);
	assert_int_equal(symlink(target, whole), 0);
}

struct adapter {
	const char *socket, *name, *driver, *number;
	const char *vendor, *product_id, *manufacturer, *product, *serial, *interface;
};

/* An adapter as the kernel shows it: the port's folder below the interface's, below the adapter's. */
static void adapter_add(const struct adapter *adapter)
{
	char usb[512];
	char target[1100];
	char interface[700];
	char port[900];
	char link[1000];

	snprintf(usb, sizeof(usb), "devices/usb1/%s", adapter->socket);
	snprintf(interface, sizeof(interface), "%s/%s:1.%s", usb, adapter->socket, adapter->interface);
	snprintf(port, sizeof(port), "%s/%s", interface, adapter->name);
	file_add(usb, "idVendor", adapter->vendor);
	file_add(usb, "idProduct", adapter->product_id);
	if (adapter->manufacturer)
		file_add(usb, "manufacturer", adapter->manufacturer);
	file_add(usb, "product", adapter->product);
	if (adapter->serial)
		file_add(usb, "serial", adapter->serial);
	file_add(interface, "bInterfaceNumber", adapter->interface);
	snprintf(link, sizeof(link), "../../../../bus/drivers/%s", adapter->driver);
	link_add(port, "driver", link);
	snprintf(link, sizeof(link), "%s/tty/%s", port, adapter->name);
	file_add(link, "dev", adapter->number);
	link_add(link, "device", "../..");
	snprintf(target, sizeof(target), "../%s", link);
	link_add("tty", adapter->name, target);
}

static int tables_make(void **state)
{
	const char *folder = getenv("TMPDIR");

	(void)state;
	snprintf(root, sizeof(root), "%.200s/ports-XXXXXX", folder ? folder : "/tmp");
	assert_non_null(mkdtemp(root));
	folder_add("dev");
	folder_add("tty");
	return 0;
}

static int tables_remove(void **state)
{
	char command[400];

	(void)state;
	snprintf(command, sizeof(command), "rm -rf '%s'", root);
	return system(command);
}

static struct port_list list_read(void)
{
	char tty[PATH_MAX];
	char dev[PATH_MAX];
	struct port_list list;
	struct error error;

	path_make(tty, "tty");
	path_make(dev, "dev");
	assert_int_equal(port_list_read_at(&list, tty, dev, &error), STATUS_OK);
	return list;
}

static const struct adapter bench_meter = { "1-1",  "ttyUSB0", "ftdi_sio", "188:0",  "0403",
	                                    "6001", "Bench",   "Meter",    "METER0", "00" };

static void says_what_an_adapter_says_of_itself(void **state)
{
	struct port_list list;
	char text[200];

	(void)state;
	adapter_add(&bench_meter);
	list = list_read();
	assert_int_equal(list.count, 1);
	assert_string_equal(strrchr(list.items[0].path, '/'), "/ttyUSB0");
	assert_true(list.items[0].usb);
	assert_int_equal(list.items[0].vendor_id, 0x0403);
	assert_int_equal(list.items[0].product_id, 0x6001);
	assert_string_equal(list.items[0].manufacturer, "Bench");
	assert_string_equal(list.items[0].product, "Meter");
	assert_string_equal(list.items[0].serial, "METER0");
	assert_string_equal(list.items[0].interface, "00");
	assert_string_equal(list.items[0].socket, "1-1");
	assert_string_equal(list.items[0].driver, "ftdi_sio");
	assert_true(list.items[0].device == makedev(188, 0));
	assert_ptr_equal(port_list_find(&list, makedev(188, 0)), &list.items[0]);
	assert_null(port_list_find(&list, makedev(188, 1)));
	/* the kernel knows it, but udev has not made its node yet */
	assert_false(list.items[0].present);
	assert_string_equal(port_list_print(text, sizeof(text), &list), "none");
	port_list_release(&list);
}

static void leaves_out_what_is_no_port(void **state)
{
	struct port_list list;

	(void)state;
	/* a virtual console has no device; a name without a chip is of type 0 */
	file_add("tty/tty1", "dev", "4:1");
	file_add("devices/serial8250/tty/ttyS3", "dev", "4:67");
	file_add("devices/serial8250/tty/ttyS3", "type", "0");
	link_add("devices/serial8250/tty/ttyS3", "device", "../..");
	link_add("tty", "ttyS3", "../devices/serial8250/tty/ttyS3");
	file_add("devices/00:04/tty/ttyS0", "dev", "4:64");
	file_add("devices/00:04/tty/ttyS0", "type", "4");
	link_add("devices/00:04/tty/ttyS0", "device", "../..");
	link_add("tty", "ttyS0", "../devices/00:04/tty/ttyS0");
	file_add("tty/console", "active", "tty0 ttyS0");
	list = list_read();
	assert_int_equal(list.count, 1);
	assert_string_equal(strrchr(list.items[0].path, '/'), "/ttyS0");
	assert_true(list.items[0].console);
	assert_false(list.items[0].usb);
	port_list_release(&list);
}

static void sorts_numbers_as_numbers(void **state)
{
	struct adapter adapter = bench_meter;
	struct port_list list;

	(void)state;
	adapter.name = "ttyUSB10";
	adapter.socket = "1-3";
	adapter_add(&adapter);
	adapter.name = "ttyUSB2";
	adapter.socket = "1-2";
	adapter_add(&adapter);
	list = list_read();
	assert_int_equal(list.count, 2);
	assert_string_equal(strrchr(list.items[0].path, '/'), "/ttyUSB2");
	assert_string_equal(strrchr(list.items[1].path, '/'), "/ttyUSB10");
	port_list_release(&list);
}

static void finds_two_adapters_that_say_the_same_of_themselves(void **state)
{
	struct adapter cheap = bench_meter;
	const struct port_info *twin;
	struct port_list list;

	(void)state;
	cheap.serial = NULL;
	cheap.manufacturer = NULL;
	adapter_add(&cheap);
	cheap.name = "ttyUSB1";
	cheap.socket = "1-2";
	adapter_add(&cheap);
	cheap.name = "ttyUSB2";
	cheap.socket = "1-3";
	cheap.product = "Other meter";
	adapter_add(&cheap);
	list = list_read();
	assert_int_equal(list.count, 3);
	twin = port_list_twin(&list, &list.items[0], NULL);
	assert_ptr_equal(twin, &list.items[1]);
	assert_null(port_list_twin(&list, &list.items[0], twin));
	assert_null(port_list_twin(&list, &list.items[2], NULL));
	port_list_release(&list);
}

static void tells_two_ports_of_one_adapter_and_two_serial_numbers_apart(void **state)
{
	struct adapter adapter = bench_meter;
	struct port_list list;

	(void)state;
	adapter_add(&adapter);
	adapter.name = "ttyUSB1";
	adapter.interface = "01";
	adapter_add(&adapter);
	adapter.name = "ttyUSB2";
	adapter.interface = "00";
	adapter.socket = "1-2";
	adapter.serial = "METER1";
	adapter_add(&adapter);
	list = list_read();
	assert_int_equal(list.count, 3);
	for (size_t i = 0; i < list.count; i++)
		assert_null(port_list_twin(&list, &list.items[i], NULL));
	port_list_release(&list);
}

static void a_missing_table_is_a_failure_with_its_name(void **state)
{
	struct port_list list;
	struct error error;

	(void)state;
	assert_int_equal(port_list_read_at(&list, "/nowhere/tty", "/dev", &error), STATUS_IO);
	assert_non_null(strstr(error.text, "/nowhere/tty"));
	assert_int_equal(list.count, 0);
}

static void reads_this_machine_without_opening_a_port(void **state)
{
	struct port_list list;
	struct error error;
	char text[64];

	(void)state;
	if (access("/sys/class/tty", F_OK) != 0)
		skip();
	assert_int_equal(port_list_read(&list, &error), STATUS_OK);
	for (size_t i = 0; i < list.count; i++) {
		assert_int_equal(strncmp(list.items[i].path, "/dev/", 5), 0);
		assert_int_not_equal(strncmp(list.items[i].path, "/dev/pts", 8), 0);
	}
	port_list_print(text, sizeof(text), &list);
	assert_true(strlen(text) > 0 && strlen(text) < sizeof(text));
	port_list_release(&list);
}

#define WITH_TABLES(test) cmocka_unit_test_setup_teardown(test, tables_make, tables_remove)

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_TABLES(says_what_an_adapter_says_of_itself),
		WITH_TABLES(leaves_out_what_is_no_port),
		WITH_TABLES(sorts_numbers_as_numbers),
		WITH_TABLES(finds_two_adapters_that_say_the_same_of_themselves),
		WITH_TABLES(tells_two_ports_of_one_adapter_and_two_serial_numbers_apart),
		cmocka_unit_test(a_missing_table_is_a_failure_with_its_name),
		cmocka_unit_test(reads_this_machine_without_opening_a_port),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
