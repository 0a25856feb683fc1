#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What the walk through failing calls found once: a failure that was not said, was taken for another, or cost a reading.

bats_require_minimum_version 1.5.0

PROFILE='[line]
pattern = R (?<seq>\d+) (?<value>\d+\.\d\d) % (?<temp>\d\d\.\d) C
'

setup() {
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers, which have functions of their own below the program's"
	cd "$BATS_TEST_TMPDIR"
	printf '%s' "$PROFILE" >meter.ini
	printf 'R 0001 1.38 %% 22.4 C\nR 0002 1.39 %% 22.4 C\nR 0003 1.40 %% 22.4 C\n' >stream
	printf 'brew,treatment,dose_g,water_g,beverage_g\nA1,a,20,320,280\nA2,a,20,320,280\nB1,b,20,320,280\nB2,b,20,320,280\n' >brews.csv
	printf 'A1 1.38\nA1 1.39\nA2 1.40\nA2 1.41\nB1 1.50\nB1 1.51\nB2 1.52\nB2 1.50\n' >cups.txt
	unset daemon
}

teardown() {
	[ -z "${daemon:-}" ] || kill "$daemon" 2>/dev/null || true
}

# failing CALL NTH ERRNO COMMAND...: that call fails, once
failing() {
	FAULT_CALL=$1 FAULT_NTH=$2 FAULT_ERRNO=$3 FAULT_IN=$5 LD_PRELOAD=$TEST_BUILD/fault/fail_nth.so "${@:4}"
}

# listen_to_stream OUTPUT
listen_to_stream() {
	"$BREWSPREAD" listen --from stream --profile meter.ini --json >"$1"
}

bench_make() {
	: >bench.ini
	"$BREWSPREAD" open tray brews.csv --bench . >/dev/null
	"$BREWSPREAD" paste cups.txt --bench . >/dev/null
}

@test "standard output that can't be written to is said, is a failure, and costs no reading" {
	run listen_to_stream /dev/full
	[ "$status" -eq 3 ]
	[[ "$output" == *"standard output can't be written to: No space left on device"* ]]
	[ "$("$BREWSPREAD" export --bench . | wc -l)" -eq 4 ]
}

@test "a reader of standard output that leaves is said, and no failure" {
	mkfifo out
	# it is gone before the first reading comes
	{ sleep 0.5; cat stream; } | "$BREWSPREAD" listen --from - --profile meter.ini --json 2>err >out &
	daemon=$!
	timeout 10 cat <out >/dev/null &
	sleep 0.2
	kill $!
	wait "$daemon" || { cat err; return 1; }
	grep -q "standard output can't be written to: Broken pipe" err
}

@test "a file that can't be read for a moment is read on where it was, each line once" {
	local said=0 n
	for n in $(seq 20); do
		rm -f ledger.brewspread*
		run failing read "$n" 5 "$BREWSPREAD" listen --from stream --profile meter.ini --json
		[ "$status" -eq 0 ] || { [[ "$output" == *"Input/output error"* ]]; continue; }
		[ "$("$BREWSPREAD" export --bench . | wc -l)" -eq 4 ] || { echo "read $n: $output"; return 1; }
		[[ "$output" != *"stream can't be read: Input/output error; trying again"* ]] || said=$((said + 1))
	done
	[ "$said" -gt 0 ]
}

@test "standard input that can't be read has not ended, and the reason is said" {
	local said=0 n
	for n in $(seq 20); do
		rm -f ledger.brewspread*
		run failing read "$n" 5 "$BREWSPREAD" listen --from - --profile meter.ini --json <stream
		[[ "$output" != *"standard input can't be read: Input/output error"* ]] || said=$((said + 1))
	done
	[ "$said" -gt 0 ]
}

@test "no memory for a source is not too many of them" {
	local n
	for n in $(seq 12); do
		run failing malloc "$n" 12 "$BREWSPREAD" listen --from stream --profile meter.ini
		[ "$status" -ne 2 ]
		[[ "$output" != *"more than 64"* ]]
	done
}

@test "a ledger that can't be read for a moment is not called damaged" {
	local n said=0
	bench_make
	for n in $(seq 25); do
		run failing pread "$n" 5 "$BREWSPREAD" export --bench .
		[[ "$output" != *damaged* ]] || { echo "pread $n: $output"; return 1; }
		[ "$status" -eq 0 ] || [ "$status" -eq 3 ]
		[[ "$output" != *"Input/output error"* ]] || said=$((said + 1))
	done
	[ "$said" -gt 10 ]
}

@test "a ledger that can't be opened for writing names the reason, not the account" {
	local n
	bench_make
	for n in $(seq 8); do
		run failing open "$n" 24 "$BREWSPREAD" paste cups.txt --bench .
		[[ "$output" != *"by this account"* && "$output" != *"readonly database"* ]] || { echo "open $n: $output"; return 1; }
	done
}

@test "a workbook that can't be written names the reason" {
	run failing fopen 1 13 "$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	[ "$status" -eq 3 ]
	[[ "$output" == *"out.xlsx: not written; Permission denied"* ]]
	[ ! -e out.xlsx ]
}

@test "a workbook that a write is missing from anywhere is not handed out" {
	local n counts
	FAULT_COUNTS=$PWD/counts FAULT_IN=report LD_PRELOAD=$TEST_BUILD/fault/fail_nth.so \
		"$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	mv out.xlsx whole.xlsx
	counts=$(sed -n 's/^fwrite //p' counts)
	[ "$counts" -gt 500 ]
	for n in $(seq 1 23 "$counts"); do
		run failing fwrite "$n" 28 "$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
		[ "$status" -eq 3 ] || cmp out.xlsx whole.xlsx || { echo "fwrite $n: $output"; return 1; }
		[[ "$status" -eq 0 || ! -e out.xlsx ]]
		rm -f out.xlsx
	done
}

@test "a manifest that can't be read names the reason where texts are pasted, and where earlier runs are asked" {
	bench_make
	rm runs/tray/manifest.csv
	mkdir runs/tray/manifest.csv
	run "$BREWSPREAD" paste cups.txt --bench .
	[[ "$output" == *"the labels of run tray are not known: its manifest can't be read: "*": Is a directory"* ]]
	run "$BREWSPREAD" audit .
	[ "$(grep -c "an earlier run is left out: .*manifest.csv: Is a directory" <<<"$output")" -eq 1 ]
}

@test "a manifest that can't be read when the daemon begins is tried again, and said once" {
	local n i
	bench_make
	printf '[meter left]\nport = left.fifo\nprofile = meter.ini\n' >bench.ini
	mkfifo left.fifo
	for n in $(seq 20); do
		FAULT_CALL=open FAULT_NTH=$n FAULT_ERRNO=24 FAULT_IN=listen LD_PRELOAD=$TEST_BUILD/fault/fail_nth.so \
			"$BREWSPREAD" listen --bench . --json >out 2>err 3>&- &
		daemon=$!
		for i in $(seq 500); do
			if grep -q "is open" err || ! kill -0 "$daemon" 2>/dev/null; then break; fi
			sleep 0.02
		done
		! grep -q "manifest.csv can't be used" err || break
		kill "$daemon" 2>/dev/null || true
		wait "$daemon" || true
	done
	grep -q "manifest.csv: Too many open files" err
	for i in $(seq 500); do
		! grep -q "run tray: 4 cups" err || break
		sleep 0.02
	done
	grep -q "run tray: 4 cups" err
	[ "$(grep -c "can't be used" err)" -eq 1 ]
}
