/* SPDX-License-Identifier: GPL-3.0-or-later */
/* control_path.h: where the control socket is, for both of its halves. */
#ifndef BREWSPREAD_CONTROL_PATH_H
#define BREWSPREAD_CONTROL_PATH_H

#include <sys/un.h>

#include "arena.h"

/*
 * The socket of a bench folder; of none (NULL): $XDG_RUNTIME_DIR/brewspread/control. In memory; NULL: there is none to
 * be had, or no memory.
 */
const char *control_path(const char *bench, struct arena *memory);

/* Opens the folder of path; *name is the rest of it, and shows path. -1: errno. */
int control_folder_open(char *path, char **name);

/*
 * The address of the socket name in folder. It goes by the descriptor: paths may be longer than the 107 bytes that an
 * address has room for.
 */
void control_address(struct sockaddr_un *out, int folder, const char *name);

#endif
