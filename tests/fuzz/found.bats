#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Every fuzz driver on its seeds and on what fuzzing has found so far (found/), without a fuzzer.

bats_require_minimum_version 1.5.0

replay() {
	"$BATS_TEST_DIRNAME/seeds" "fuzz_$1" "$BATS_TEST_TMPDIR/seeds"
	[ "$(find "$BATS_TEST_TMPDIR/seeds" -type f | wc -l)" -gt 0 ]
	"$TEST_BUILD/fuzz/replay_$1" "$BATS_TEST_TMPDIR"/seeds/*
}

@test "reports" { replay report; }
@test "audits and instrument studies" { replay audit; }
@test "readings as text" { replay readings; }
@test "meter profiles and lines" { replay profile; }
@test "the framer of lines" { replay lines; }
@test "settings" { replay settings; }
@test "the control socket" { replay control; }
@test "ledger files" { replay ledger; }
@test "moments, numbers, labels" { replay words; }
@test "templates" { replay template; }

@test "no driver is left out here" {
	for driver in "$BATS_TEST_DIRNAME"/fuzz_*.c; do
		name=$(basename "$driver" .c)
		grep -q "replay ${name#fuzz_};" "$BATS_TEST_FILENAME"
	done
}
