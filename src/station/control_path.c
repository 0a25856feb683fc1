/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "control_path.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

const char *control_path(const char *bench, struct arena *memory)
{
	const char *runtime = getenv("XDG_RUNTIME_DIR");

	if (bench)
		return arena_print(memory, "%s/control", bench);
	return runtime && runtime[0] == '/' ? arena_print(memory, "%s/brewspread/control", runtime) : NULL;
}

int control_folder_open(char *path, char **name)
{
	char *slash = strrchr(path, '/');
	int fd;

	*name = slash ? slash + 1 : path;
	if (!slash)
		return open(".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	*slash = '\0';
	fd = open(slash == path ? "/" : path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	*slash = '/';
	return fd;
}

void control_address(struct sockaddr_un *out, int folder, const char *name)
{
	*out = (struct sockaddr_un){ .sun_family = AF_UNIX };
	snprintf(out->sun_path, sizeof(out->sun_path), "/proc/self/fd/%d/%s", folder, name);
}
