/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "command.h"
#include "port_list.h"
#include "reading_json.h"

static const struct command_option options[] = {
	{ "all", 'a', NULL, "Ports that are not there now, and consoles, too." },
	{ "json", 0, NULL, "Prints them as JSON." },
	{ .name = NULL },
};

static bool is_shown(const struct port_info *port, bool all)
{
	return all || (port->present && !port->console);
}

static void detail_print(const char *name, const char *text)
{
	if (text[0])
		printf("  %s: %s\n", name, text);
}

static void port_print(const struct port_list *list, const struct port_info *port)
{
	const struct port_info *twin = port_list_twin(list, port, NULL);

	printf("%s%s%s\n", port->path, port->present ? "" : " (not there now)",
	       port->console ? " (the system's console)" : "");
	if (port->usb)
		printf("  USB %04x:%04x %s%s%s\n", port->vendor_id, port->product_id, port->manufacturer,
		       port->manufacturer[0] && port->product[0] ? " " : "", port->product);
	detail_print("serial number", port->serial);
	detail_print("driver", port->driver);
	detail_print("at", port->socket);
	detail_print("by what it is", port->by_id);
	detail_print("by where it is", port->by_path);
	if (twin && port->by_id[0])
		printf("  %s says the same of itself: go by where it is\n", twin->path);
}

static json_t *port_json(const struct port_list *list, const struct port_info *port)
{
	json_t *json = json_object();

	json_object_set_new(json, "path", json_text(slice_from(port->path)));
	json_object_set_new(json, "present", json_boolean(port->present));
	json_object_set_new(json, "console", json_boolean(port->console));
	json_object_set_new(json, "driver", json_text(slice_from(port->driver)));
	json_object_set_new(json, "by_id", json_text(slice_from(port->by_id)));
	json_object_set_new(json, "by_path", json_text(slice_from(port->by_path)));
	json_object_set_new(json, "usb", json_boolean(port->usb));
	json_object_set_new(json, "vendor_id", port->usb ? json_integer(port->vendor_id) : json_null());
	json_object_set_new(json, "product_id", port->usb ? json_integer(port->product_id) : json_null());
	json_object_set_new(json, "manufacturer", json_text(slice_from(port->manufacturer)));
	json_object_set_new(json, "product", json_text(slice_from(port->product)));
	json_object_set_new(json, "serial", json_text(slice_from(port->serial)));
	json_object_set_new(json, "interface", json_text(slice_from(port->interface)));
	json_object_set_new(json, "socket", json_text(slice_from(port->socket)));
	json_object_set_new(json, "by_id_is_ambiguous", json_boolean(port_list_twin(list, port, NULL) != NULL));
	return json;
}

static void json_print(const struct port_list *list, bool all)
{
	json_t *array = json_array();

	for (size_t i = 0; i < list->count; i++)
		if (is_shown(&list->items[i], all))
			json_array_append_new(array, port_json(list, &list->items[i]));
	json_dumpf(array, stdout, JSON_COMPACT);
	printf("\n");
	json_decref(array);
}

static enum exit_code run_ports(struct invocation *invocation)
{
	bool all = invocation_given(invocation, "all");
	struct port_list list = PORT_LIST_INIT;
	enum status status = port_list_read(&list, &invocation->error);
	size_t shown = 0;

	if (status != STATUS_OK)
		return invocation_tell_error(invocation, status);
	if (invocation_given(invocation, "json"))
		json_print(&list, all);
	for (size_t i = 0; i < list.count && !invocation_given(invocation, "json"); i++)
		if (is_shown(&list.items[i], all)) {
			port_print(&list, &list.items[i]);
			shown++;
		}
	if (shown == 0 && !invocation_given(invocation, "json"))
		printf("no serial port is plugged in\n");
	port_list_release(&list);
	return EXIT_DONE;
}

const struct command command_ports = {
	.name = "ports",
	.purpose = "Lists serial ports, with what their USB adapters say of themselves. Opens none.",
	.operands = "",
	.options = options,
	.example = "ports --json",
	.example_exit = EXIT_DONE,
	.run = run_ports,
};
