#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What the service manager is told, as sd_notify(3) has it: ready, how it goes, that it lives, that it stops.

bats_require_minimum_version 1.5.0
load bench

setup() {
	bench_make left
	meter_plug left
	python3 -c '
import socket
s = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
s.bind("manager")
while True:
    with open("told.txt", "a") as f:
        f.write(s.recv(4096).decode() + "\n--\n")' 3>&- 4>&- &
	manager=$!
	await test -S manager
}

teardown() {
	bench_end
	kill "$manager" 2>/dev/null || true
}

@test "the manager hears that the daemon is ready, lives and stops" {
	export NOTIFY_SOCKET="$PWD/manager" WATCHDOG_USEC=400000
	listen_start
	await grep -qx 'READY=1' told.txt
	grep -qx 'STATUS=storing' told.txt
	await eval '[ $(grep -cx WATCHDOG=1 told.txt) -ge 2 ]'
	kill -HUP "$daemon"
	await grep -qx 'RELOADING=1' told.txt
	grep -qE '^MONOTONIC_USEC=[0-9]+$' told.txt
	await eval '[ $(grep -cx READY=1 told.txt) -eq 2 ]'
	listen_stop
	await grep -qx 'STOPPING=1' told.txt
}

@test "without a manager nothing is told, and its library stays unloaded" {
	unset NOTIFY_SOCKET
	listen_start
	! grep -q libsystemd "/proc/$daemon/maps" || false
	listen_stop
	[ ! -s told.txt ]
}
