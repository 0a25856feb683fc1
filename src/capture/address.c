/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "address.h"

#include <netdb.h>
#include <stdio.h>
#include <string.h>

#include "number.h"
#include "slice.h"

struct endpoint {
	struct slice host;
	struct slice service;
};

/* "host:4001", "[::1]:4001" */
static bool endpoint_split(struct endpoint *out, struct slice text)
{
	bool bracket = text.len > 0 && text.text[0] == '[';
	const char *end = text.len > 0 ? memrchr(text.text, bracket ? ']' : ':', text.len) : NULL;
	size_t at = end ? (size_t)(end - text.text) : 0;

	if (!end)
		return false;
	out->host = slice_part(text, bracket, at);
	if (bracket && (++at >= text.len || text.text[at] != ':'))
		return false;
	out->service = slice_part(text, at + 1, text.len);
	return out->host.len > 0;
}

static enum status host_find(struct address *out, const char *host, const char *service, struct error *error)
{
	struct addrinfo hints = { .ai_family = AF_UNSPEC, .ai_socktype = SOCK_STREAM, .ai_flags = AI_NUMERICSERV };
	struct addrinfo *found;
	int result = getaddrinfo(host, service, &hints, &found);

	if (result == EAI_MEMORY)
		return error_set(error, STATUS_MEMORY, "no memory to look up host %s", host);
	if (result != 0)
		return error_set(error, STATUS_IO, "host %s: %s", host, gai_strerror(result));
	for (struct addrinfo *one = found; one && out->host_count < ADDRESS_HOSTS; one = one->ai_next) {
		struct address_host *into = &out->hosts[out->host_count++];

		memcpy(&into->name, one->ai_addr, one->ai_addrlen);
		into->len = one->ai_addrlen;
	}
	freeaddrinfo(found);
	return STATUS_OK;
}

static enum status tcp_parse(struct address *out, const char *where, struct error *error)
{
	struct endpoint endpoint;
	long long port;
	char host[256];
	char service[8];

	if (!endpoint_split(&endpoint, slice_from(where + 4)) || endpoint.host.len >= sizeof(host) ||
	    !number_parse_count(&port, endpoint.service) || port < 1 || port > 65535)
		return error_set(error, STATUS_INVALID,
		                 "\"%s\" names no host and port; expected tcp:HOST:PORT, such as tcp:192.168.0.7:4001",
		                 where);
	snprintf(host, sizeof(host), "%.*s", SLICE_ARG(endpoint.host));
	snprintf(service, sizeof(service), "%d", (int)port);
	return host_find(out, host, service, error);
}

enum status address_parse(struct address *out, const char *where, struct error *error)
{
	*out = (struct address){ .kind = ADDRESS_PATH, .path = where };
	if (where[0] == '\0')
		return error_set(error, STATUS_INVALID,
		                 "the name of a source is empty; expected a port, a file or tcp:HOST:PORT");
	if (strcmp(where, "-") == 0 || strcmp(where, "/dev/stdin") == 0) {
		out->kind = ADDRESS_INPUT;
		return STATUS_OK;
	}
	if (strncmp(where, "tcp:", 4) != 0)
		return STATUS_OK;
	out->kind = ADDRESS_TCP;
	return tcp_parse(out, where, error);
}
