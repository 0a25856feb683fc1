#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# ports: what is plugged in, without opening anything.

bats_require_minimum_version 1.5.0

setup() {
	[ -d /sys/class/tty ] || skip "/sys is not mounted here"
}

@test "ports are listed as text and as JSON, and pseudo-terminals are none" {
	run --separate-stderr "$BREWSPREAD" ports
	[ "$status" -eq 0 ]
	[ -n "$output" ]
	"$BREWSPREAD" ports --json | python3 -c '
import json, sys
for p in json.load(sys.stdin):
    assert p["path"].startswith("/dev/") and not p["path"].startswith("/dev/pts"), p'
}

@test "with --all consoles come too, and no port is opened" {
	"$BREWSPREAD" ports --all --json | python3 -c 'import json, sys; assert isinstance(json.load(sys.stdin), list)'
	strace -o /dev/null true 2>/dev/null || skip "no call can be traced here"
	# the leak check itself traces, and gives up under another tracer
	ASAN_OPTIONS="${ASAN_OPTIONS:-}:detect_leaks=0" \
		strace -f -e trace=open,openat -o "$BATS_TEST_TMPDIR/calls" "$BREWSPREAD" ports --all >/dev/null
	! grep -v O_DIRECTORY "$BATS_TEST_TMPDIR/calls" | grep -E '"/dev/(tty|serial|pts|console)' || false
}

@test "operands are wrong use" {
	run "$BREWSPREAD" ports /dev/ttyUSB0
	[ "$status" -eq 2 ]
}
