#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Calls of the system that fail, one after the other: a short walk; "make faults" does the whole of it.

bats_require_minimum_version 1.5.0

walk() {
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers, which have functions of their own below the program's"
	run /usr/bin/python3 "$BATS_TEST_DIRNAME/walk" --short "$1"
	[ "$status" -eq 0 ] || { echo "$output"; return 1; }
	[[ "$output" == *"0 findings"* ]]
	[ "$(sed -n 's/.* \([0-9]\+\) calls failed.*/\1/p' <<<"$output")" -gt 10 ]
}

@test "a report is whole or not there, whatever fails" { walk report; }
@test "so is a folder of all formats" { walk "report in all formats"; }
@test "check ends with a reason" { walk check; }
@test "a text is pasted whole or not at all" { walk paste; }
@test "readings are amended together or not at all" { walk amend; }
@test "an export that is cut short says so" { walk export; }
@test "a backup is whole or not there" { walk backup; }
@test "an audit's workbook is whole or not there" { walk audit; }
@test "what listen told is in the ledger" { walk listen; }
