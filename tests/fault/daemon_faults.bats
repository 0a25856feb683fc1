#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The daemon on a bench while one call of the system fails: sockets, its signals, its report's process, its meter.

bats_require_minimum_version 1.5.0

@test "the daemon takes and tells every reading, or says why it can't begin" {
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers, which have functions of their own below the program's"
	run /usr/bin/python3 "$BATS_TEST_DIRNAME/walk" --short daemon
	[ "$status" -eq 0 ] || { echo "$output"; return 1; }
	[[ "$output" == *"0 findings"* ]]
	[ "$(sed -n 's/.* \([0-9]\+\) calls failed.*/\1/p' <<<"$output")" -gt 30 ]
}

@test "a report's process that fails takes nothing with it" {
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers, which have functions of their own below the program's"
	run /usr/bin/python3 "$BATS_TEST_DIRNAME/walk" --short "daemon's report"
	[ "$status" -eq 0 ] || { echo "$output"; return 1; }
	[[ "$output" == *"0 findings"* ]]
}
