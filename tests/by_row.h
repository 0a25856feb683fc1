/* SPDX-License-Identifier: GPL-3.0-or-later */
/* by_row.h: the rows of a table as cases for cmocka, each under its own name. */
#ifndef BY_ROW_H
#define BY_ROW_H

/* Appends a case for each of rows, whose first member is .name, to tests[], of which *count are filled. */
#define BY_ROW(tests, count, rows, test)                                                                              \
	for (size_t i = 0; i < sizeof(rows) / sizeof((rows)[0]); i++)                                                 \
		(tests)[(*(count))++] = (struct CMUnitTest)                                                           \
		{                                                                                                     \
			.name = (rows)[i].name, .test_func = (test), .initial_state = (void *)(uintptr_t) & (rows)[i] \
		}

#endif
