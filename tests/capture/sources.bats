#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
#
# Sources between processes: an invented meter on one side, a loop that reads it on the other.

setup() {
	[ -d /sys/class/tty ] || skip "/sys is not mounted here"
	cd "$BATS_TEST_TMPDIR"
	tools=$TEST_BUILD/capture
	here=$BATS_TEST_DIRNAME
	meter=
	reader=
}

teardown() {
	exec 7>&- || true
	kill $meter $reader 2>/dev/null || true
	wait
}

until_true() {
	for _ in $(seq 250); do
		"$@" && return
		sleep 0.02
	done
	echo "never came true: $*" >&2
	cat log sim >&2 || true
	return 1
}

# meter KIND PATH: starts the simulator
meter_start() {
	mkfifo in
	exec 7<>in
	"$tools/simulator" "$1" "$2" <in >sim 2>&1 7>&- 3>&- &
	meter=$!
	until_true grep -q ready sim
	oks=0
}

answered() { [ "$(grep -c ^ok sim)" -ge "$oks" ]; }

tell() {
	oks=$((oks + 1))
	printf '%s\n' "$1" >&7
	until_true answered
}

reader_start() {
	"$tools/reader" "$@" >log 2>&1 7>&- 3>&- &
	reader=$!
}

# By libserialport, the modem lines that a pseudo-terminal lacks supplied.
port_reader_start() {
	ASAN_OPTIONS=${ASAN_OPTIONS-}:verify_asan_link_order=0 LD_PRELOAD=$tools/pty_modem_shim.so \
		"$tools/reader" "$@" >log 2>&1 7>&- 3>&- &
	reader=$!
}

said() { until_true grep -qF -e "$1" log; }

count() { grep -cF -e "$1" log || true; }

# Ends the reader by SIGTERM; fails if that takes 2 s.
reader_stop() {
	kill "$reader"
	for _ in $(seq 100); do
		kill -0 "$reader" 2>/dev/null || break
		sleep 0.02
	done
	if kill -0 "$reader" 2>/dev/null; then
		echo "the reader did not stop" >&2
		return 1
	fi
	wait "$reader"
	reader=
}

@test "a meter that sends byte by byte is read over a pseudo-terminal" {
	meter_start pty "$PWD/m"
	reader_start "$PWD/m"
	said 'opened'
	tell 'pace 2'
	tell 'send "R 0001 1.38 % 22.4 C\r\nR 0002 1.41 % 22.5 C\r"'
	said 'line reading R 0002 1.41 % 22.5 C'
	[ "$(count 'line reading')" = 2 ]
	reader_stop
}

@test "the cable is pulled in mid-line and put back: one piece kept, reading goes on" {
	meter_start pty "$PWD/m"
	port_reader_start "/dev/../../..$PWD/m"
	said 'is open at 9600 8N1'
	tell 'send "R 0001 1.38 % 22.4 C\r\nR 0002 1.4"'
	said 'R 0001'
	sleep 0.1
	tell 'hangup'
	said 'broken R 0002 1.4'
	said '0 gone'
	tell 'plug'
	opened_twice() { [ "$(count opened)" = 2 ]; }
	until_true opened_twice
	tell 'send "R 0003 1.40 % 22.4 C\r\n"'
	said 'line reading R 0003'
	[ "$(count 'line reading')" = 2 ]
	reader_stop
}

@test "unplugged for two seconds, it takes less than 5 % of a processor" {
	meter_start pty "$PWD/m"
	port_reader_start "/dev/../../..$PWD/m"
	said 'opened'
	tell 'hangup'
	said 'gone'
	# from here on by the kernel's count, in ticks of 10 ms
	before=$(awk '{ print $14 + $15 }' /proc/$reader/stat)
	sleep 2
	after=$(awk '{ print $14 + $15 }' /proc/$reader/stat)
	echo "ticks: $((after - before))"
	[ $((after - before)) -le 10 ]
	reader_stop
}

@test "it can be stopped within two seconds: waiting, refused, open, connecting" {
	meter_start pty "$PWD/m"
	reader_start "$PWD/absent" /dev/null tcp:127.0.0.1:1 "$PWD/m"
	said '3 opened'
	said '0 waiting there is no'
	said '1 waiting /dev/null is a device, but no serial port'
	said '2 waiting tcp:127.0.0.1:1: no connection'
	tell 'hangup'
	said '3 gone'
	reader_stop
}

@test "a second program is refused the port, by whatever path, and told who has it" {
	meter_start pty "$PWD/m"
	reader_start "$PWD/m"
	said 'opened'
	first=$reader
	mv log first
	reader_start "$(readlink -f m)"
	said "is in use by another program: reader (process $first)"
	kill "$first"
	wait "$first" || true
	said 'opened'
	reader_stop
}

@test "settings left by the program before are overridden, those changed meanwhile restored" {
	meter_start pty "$PWD/m"
	stty -F m 1200 cstopb ixon icrnl crtscts
	port_reader_start "/dev/../../..$PWD/m"
	said 'is open at 9600 8N1'
	run stty -a -F m
	[[ $output == *'speed 9600 baud'* ]]
	[[ $output == *-cstopb* && $output == *-ixon* && $output == *-icrnl* && $output == *-crtscts* ]]
	tell 'stty 115200 cstopb'
	said 'another program changed the settings'
	run stty -a -F m
	[[ $output == *'speed 9600 baud'* && $output == *-cstopb* ]]
	reader_stop
}

@test "a driver without modem lines is told as such" {
	meter_start pty "$PWD/m"
	export SHIM_MODEM=none
	port_reader_start "/dev/../../..$PWD/m"
	unset SHIM_MODEM
	said 'its driver knows no modem lines'
	reader_stop
}

@test "what a meter sent before the port was opened is stale" {
	meter_start pty "$PWD/m"
	tell 'send "R 0001 1.38 % 22.4 C\r\n"'
	port_reader_start "/dev/../../..$PWD/m"
	said 'line reading stale R 0001'
	tell 'send "R 0002 1.38 % 22.4 C\r\n"'
	said 'line reading R 0002'
	reader_stop
}

@test "4 kB of noise give one diagnosis and no reading" {
	meter_start pty "$PWD/m"
	reader_start "$PWD/m"
	said 'opened'
	tell 'noise 4096'
	tell 'send "\r\nR 0002 1.38 % 22.4 C\r\n"'
	said 'line reading R 0002'
	[ "$(count diagnosis)" = 1 ]
	[ "$(count 'line reading')" = 1 ]
	reader_stop
}

@test "a FIFO serves one writer after the other" {
	meter_start fifo "$PWD/f"
	reader_start "$PWD/f"
	said 'opened'
	tell 'send "R 0001 1.38 % 22.4 C\n"'
	tell 'hangup'
	tell 'send "R 0002 1.38 % 22.4 C\n"'
	said 'R 0002'
	[ "$(count gone)" = 0 ]
	reader_stop
}

@test "a connection that is closed is made again" {
	meter_start tcp "$PWD/number"
	reader_start "tcp:127.0.0.1:$(cat number)"
	tell 'send "R 0001 1.38 % 22.4 C\n"'
	said 'R 0001'
	tell 'hangup'
	said 'was closed by the other end'
	tell 'send "R 0002 1.38 % 22.4 C\n"'
	said 'R 0002'
	reader_stop
}

@test "a thousand lines at once arrive in order" {
	meter_start pty "$PWD/m"
	port_reader_start "/dev/../../..$PWD/m"
	said 'opened'
	tell 'flood 1000'
	said 'R 1000'
	grep -F 'line reading' log | awk '{ if ($5 + 0 != NR) exit 1 }' || { grep -n line log | head; false; }
	reader_stop
}

@test "standard input and files end, and so does the reader" {
	printf 'R 0001 1.38 %% 22.4 C\nR 00' | "$tools/reader" - >log
	said '0 line reading R 0001'
	said '0 broken R 00'
	said '0 end standard input has ended'
}

private_dev() {
	[ "$(id -u)" = 0 ] && unshare -m true 2>/dev/null || skip 'needs root and mount namespaces'
	cat >script
	timeout 30 "$here/private_dev" "$PWD" "$PWD/script" 3>&-
}

@test "a by-id link is followed to the port, and again when it comes back under another name" {
	private_dev <<-'SCRIPT'
		plug 0 1-1 METER0
		read_from /dev/serial/by-id/usb-Invented_adapter_METER0-if00-port0
		said '(/dev/ttyUSB0) is open at 9600 8N1'
		tell 0 'send "R 0001 1.38 % 22.4 C\r\n"'
		said 'line reading R 0001'
		unplug 0 1-1
		said 'waiting there is no /dev/serial/by-id/usb-Invented_adapter_METER0-if00-port0'
		plug 1 1-2 METER0
		said '(/dev/ttyUSB1) is open'
		tell 1 'send "R 0002 1.38 % 22.4 C\r\n"'
		said 'line reading R 0002'
	SCRIPT
}

@test "a by-id link that two adapters answer to is refused; those by path are named, and work" {
	private_dev <<-'SCRIPT'
		plug 0 1-1 ''
		plug 1 1-2 ''
		read_from /dev/serial/by-id/usb-Invented_adapter-if00-port0 /dev/serial/by-path/pci-usb-1-2:1.0-port0
		said '0 waiting /dev/serial/by-id/usb-Invented_adapter-if00-port0 fits /dev/ttyUSB1 and /dev/ttyUSB0 alike'
		said 'name the socket instead: /dev/serial/by-path/pci-usb-1-2:1.0-port0 or /dev/serial/by-path/pci-usb-1-1:1.0-port0'
		said '1 opened /dev/serial/by-path/pci-usb-1-2:1.0-port0 (/dev/ttyUSB1) is open'
		tell 1 'send "R 0001 1.38 % 22.4 C\r\n"'
		said '1 line reading R 0001'
	SCRIPT
}

@test "a port that is not there is told with those that are" {
	private_dev <<-'SCRIPT'
		plug 0 1-1 METER0
		read_from /dev/ttyUSB7
		said 'there is no /dev/ttyUSB7; ports that are: /dev/ttyUSB0 (USB 1234:5678, Invented adapter)'
	SCRIPT
}

@test "a port that vanishes a second after it appeared brings a hint" {
	private_dev <<-'SCRIPT'
		read_from /dev/ttyUSB0
		said 'there is no /dev/ttyUSB0'
		plug 0 1-1 METER0
		said 'opened'
		sleep 1
		unplug 0 1-1
		said 'brltty'
	SCRIPT
}
