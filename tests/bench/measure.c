/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * measure TURNS NAME COMMAND [NAME COMMAND ...]: runs the commands, each one line for the shell, in turns, and prints of
 * each the median and least wall time, the median processor time, the peak memory, and its processor time over that of
 * the last, which is what it is to be compared with. A command that exits above 1 stops everything.
 */
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "bench.h"

enum { TURNS_MOST = 100, COMMANDS_MOST = 8 };

struct figures {
	double wall[TURNS_MOST];
	double cpu[TURNS_MOST];
	long peak_kb;
};

static double seconds(struct timeval time)
{
	return (double)time.tv_sec + (double)time.tv_usec / 1e6;
}

static int run_once(const char *line, struct figures *figures, int turn)
{
	double start = bench_now_s();
	struct rusage used;
	pid_t child = fork();
	int status;

	if (child == 0) {
		execl("/bin/sh", "sh", "-c", line, (char *)NULL);
		_exit(127);
	}
	if (child < 0 || wait4(child, &status, 0, &used) < 0)
		return 127;
	figures->wall[turn] = bench_now_s() - start;
	figures->cpu[turn] = seconds(used.ru_utime) + seconds(used.ru_stime);
	if (used.ru_maxrss > figures->peak_kb)
		figures->peak_kb = used.ru_maxrss;
	return WIFEXITED(status) ? WEXITSTATUS(status) : 126;
}

static int ascending(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return a < b ? -1 : a > b;
}

int main(int argc, char **argv)
{
	static struct figures figures[COMMANDS_MOST];
	int turns = argc > 1 ? (int)strtol(argv[1], NULL, 10) : 0;
	int count = (argc - 2) / 2;

	if (turns < 1 || turns > TURNS_MOST || count < 1 || count > COMMANDS_MOST || argc != 2 + 2 * count)
		return 2;
	for (int turn = 0; turn < turns; turn++)
		for (int c = 0; c < count; c++) {
			int status = run_once(argv[3 + 2 * c], &figures[c], turn);

			if (status > 1) {
				fprintf(stderr, "measure: exit %d: %s\n", status, argv[3 + 2 * c]);
				return 1;
			}
		}
	for (int c = 0; c < count; c++) {
		qsort(figures[c].wall, (size_t)turns, sizeof(double), ascending);
		qsort(figures[c].cpu, (size_t)turns, sizeof(double), ascending);
	}
	printf("  %-34s %10s %10s %10s %9s %7s\n", "", "median s", "least s", "cpu s", "peak MB", "ratio");
	for (int c = 0; c < count; c++)
		printf("  %-34s %10.3f %10.3f %10.3f %9.1f %7.2f\n", argv[2 + 2 * c], figures[c].wall[turns / 2],
		       figures[c].wall[0], figures[c].cpu[turns / 2], (double)figures[c].peak_kb / 1024,
		       figures[c].cpu[turns / 2] / figures[count - 1].cpu[turns / 2]);
	return 0;
}
