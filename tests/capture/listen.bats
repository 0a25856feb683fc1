#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The daemon and its meters: what comes over the wire ends in the ledger, once, and is told only then.

bats_require_minimum_version 1.5.0
load bench

setup() {
	# times and sizes here are promises of the plain build; sources and the ledger have sanitized tests of their own
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers"
}

teardown() {
	bench_end
}

# ms of processor that the daemon has used
processor() {
	awk '{ print ($14 + $15) * 10 }' "/proc/$daemon/stat"
}

# COMMAND...: with clocks that the file "clock" sets
with_clock() {
	local ASAN_OPTIONS=${ASAN_OPTIONS-}:verify_asan_link_order=0
	export ASAN_OPTIONS CLOCK_SHIM=$PWD/clock LD_PRELOAD=$TEST_BUILD/capture/clock_shim.so
	"$@"
	unset CLOCK_SHIM LD_PRELOAD
}

@test "a reading is told once it is in the ledger, with its line, number, unit and temperature" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	reading left 1 1.40
	told 1
	[ "$(of '(d["id"], d["shown"], d["value"], d["unit"], d["temp_c"], d["line"], d["cup"])' <out.jsonl)" = \
		"(1, '1.40', 1.4, 'tds', 22.4, 'R 0001 1.40 % 22.4 C', None)" ]
	[ "$(ledger_of '[r["shown"] for r in d]')" = "['1.40']" ]
	listen_stop
	ledger_whole
}

@test "a line that comes in pieces with long pauses is one reading" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	meter_do left 'send "R 0001 1."'
	sleep 0.5
	meter_do left 'send "38 % 22.4 C\r\n"'
	told 1
	[ "$(ledger_of '[r["line"] for r in d]')" = "['R 0001 1.38 % 22.4 C']" ]
}

@test "lines that end in a carriage return alone are read, each as soon as that comes" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	for i in 1 2 3; do
		meter_do left "send \"R 000$i 1.38 % 22.4 C\\r\""
		told "$i"
	done
}

@test "an unplugged meter is said at once, costs no processor, and is read on when it is back under another name" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	reading left 1 1.38
	told 1
	before=$(readlink left.tty)
	meter_do left hangup
	await grep -q 'left: .*unplugged' err.txt
	[ "$(status_of 'd["meters"][0]["state"]')" = waiting ]
	used=$(processor)
	sleep 1
	[ $(($(processor) - used)) -lt 50 ]
	sleep 1000 </dev/ptmx 3>&- & # holds the old name
	holder=$!
	meter_do left plug
	opened 2
	reading left 2 1.39
	told 2
	kill $holder
	[ "$(ledger_of '[r["sequence"] for r in d]')" = "['0001', '0002']" ]
}

@test "a port named by a link is opened wherever the link leads, and the link stays its name" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	[ "$(status_of 'd["meters"][0]["port"]')" = ./left.tty ]
	[ "$(status_of 'd["meters"][0]["path"]')" = "$(readlink left.tty)" ]
}

@test "a serial port is read through the library, its cable pulled and put back" {
	bench_make
	printf '[meter left]\nport = /dev/../../..%s/left.tty\nprofile = meter.ini\n' "$PWD" >>bench.ini
	meter_plug left
	export ASAN_OPTIONS=${ASAN_OPTIONS-}:verify_asan_link_order=0 LD_PRELOAD=$TEST_BUILD/capture/pty_modem_shim.so
	listen_start
	unset LD_PRELOAD
	opened 1
	grep -q 'is open at 9600 8N1' err.txt
	reading left 1 1.38
	told 1
	meter_do left hangup
	await grep -q unplugged err.txt
	meter_do left plug
	opened 2
	reading left 2 1.39
	told 2
	[ "$(ledger_of '[r["sequence"] for r in d]')" = "['0001', '0002']" ]
}

@test "what stood in the port's buffer before it was opened is kept as stale, and not counted" {
	bench_make left
	meter_plug left
	reading left 1 1.11
	listen_start
	opened 1
	reading left 2 1.38
	told 2
	[ "$(ledger_of '[(r["shown"], r["flags"]) for r in d]')" = "[('1.11', ['stale']), ('1.38', [])]" ]
	grep -q 'kept, not counted' err.txt
}

@test "a measurement that the meter sends twice is kept twice and counted once" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	for i in 1 2 2 3; do reading left $i 1.38; done
	told 4
	[ "$(ledger_of '[r["flags"] for r in d]')" = "[[], [], ['repeat'], []]" ]
}

@test "seven data bits with parity read as eight give no reading and a hint" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	meter_do left "file $BATS_TEST_DIRNAME/../../fixtures/captures/seven-even-read-as-eight-none.bin"
	await grep -qi 'left: .*7E1' err.txt
	[ ! -s out.jsonl ]
	[ "$(ledger_of 'len(d) > 0 and all(r["role"] == "not read" for r in d)')" = True ]
}

@test "a line without end is kept in pieces, said once, and the lines around it are read" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	reading left 1 1.38
	meter_do left 'endless 70000'
	meter_do left 'send "\r\n"'
	reading left 2 1.39
	told 2
	[ "$(grep -c 'longer than 4096' err.txt)" = 1 ]
	[ "$(ledger_of 'sum(len(r["line"]) for r in d if r["role"] == "not read")')" = 70000 ]
}

@test "bytes of any kind are kept as they came, and what they say to a terminal is not repeated" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	meter_do left 'send "\x1b[2J\xff\x80 x\\y\r\n"'
	await grep -q 'kept, not read' err.txt
	[ "$(ledger_of 'd[0]["line"]')" = '\x1b[2J\xff\x80 x\\y' ]
	run grep -c $'\x1b' err.txt
	[ "$output" = 0 ]
}

@test "a port that may not be opened names the port, its group and the account" {
	[ "$(id -u)" -eq 0 ] && command -v setpriv || skip "needs root and setpriv"
	bench_make left
	meter_plug left
	chmod 600 "$(readlink left.tty)"
	chmod 755 "$BATS_TEST_TMPDIR" "$BATS_RUN_TMPDIR" "$TMPDIR" "$(dirname "$TMPDIR")" || true
	chmod 777 .
	: >err.txt && chmod 666 err.txt
	setpriv --reuid 65534 --regid 65534 --clear-groups true 2>/dev/null && setpriv --reuid 65534 --regid 65534 --clear-groups test -w . ||
		skip "the test's folder is not open to other accounts"
	setpriv --reuid 65534 --regid 65534 --clear-groups "$BREWSPREAD" listen --bench . 2>err.txt >/dev/null 3>&- &
	daemon=$!
	await grep -qi "permission" err.txt
	grep -q "$(readlink left.tty)" err.txt
	grep -q 'nobody\|65534' err.txt
}

@test "writers of a FIFO come and go" {
	bench_make
	mkfifo meter.fifo
	printf '[meter pipe]\nport = meter.fifo\nprofile = meter.ini\n' >>bench.ini
	listen_start
	for i in 1 2 3; do
		printf 'R 000%d 1.38 %% 22.4 C\n' $i >meter.fifo
		told $i
	done
	[ "$(ledger_of '[r["sequence"] for r in d]')" = "['0001', '0002', '0003']" ]
}

@test "a meter behind a network port is read, and read on after the connection broke" {
	bench_make
	meter_plug net tcp "$PWD/port"
	printf '[meter net]\nport = tcp:127.0.0.1:%s\nprofile = meter.ini\n' "$(cat port)" >>bench.ini
	listen_start
	meter_do net await
	reading net 1 1.38
	told 1
	meter_do net hangup
	meter_do net await
	reading net 2 1.39
	told 2
}

@test "without any settings a source and a profile are enough, and the end of the input ends it" {
	bench_make
	printf 'R 0001 1.38 %% 22.4 C\nR 0002 1.39 %% 22.4 C\n' >lines.txt
	run --separate-stderr "$BREWSPREAD" listen --from - --profile meter.ini <lines.txt
	[ "$status" -eq 0 ]
	[ "$output" = "1.38 % TDS at 22.4 °C
1.39 % TDS at 22.4 °C" ]
	run "$BREWSPREAD" listen --from=- --profile meter.ini --ledger other.brewspread --json <lines.txt
	[ "$status" -eq 0 ]
	[ -s ledger.brewspread ]
	[ -s other.brewspread ]
	run "$BREWSPREAD" listen --from lines.txt
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" listen --from lines.txt --bench . --profile meter.ini
	[ "$status" -eq 2 ]
}

@test "a meter that has to be asked is asked, by its timer and on demand" {
	bench_make
	printf '%s[ask]\nsend = D\\r\nevery = 60000\n' "$meter_profile" >asked.ini
	printf '[meter left]\nport = left.tty\nprofile = asked.ini\n' >>bench.ini
	meter_plug left
	listen_start
	opened 1
	meter_do left 'expect "D\r"'
	reading left 1 1.38
	told 1
	printf 'ask\n' | socat -t 2 - UNIX-CONNECT:control >/dev/null
	meter_do left 'expect "D\r"'
}

@test "a meter that takes nothing of what it is asked holds up neither another one nor the end, its cable in or out" {
	bench_make right
	printf '%s[ask]\nsend = D\\r\nevery = 100\n' "$meter_profile" >asked.ini
	printf '[meter left]\nport = /dev/../../..%s/left.tty\nprofile = asked.ini\n' "$PWD" >>bench.ini
	meter_plug left
	meter_plug right
	export LD_PRELOAD=$TEST_BUILD/capture/pty_modem_shim.so SHIM_MODEM=stuck
	listen_start
	unset LD_PRELOAD SHIM_MODEM
	opened 2
	sleep 0.3 # by then it was asked
	meter_do left hangup
	await grep -q 'left: .*unplugged' err.txt
	reading right 1 1.38
	told 1
	meter_do left plug
	opened 3
	sleep 0.3
	begin=$(date +%s%N)
	listen_stop
	[ $((($(date +%s%N) - begin) / 1000000)) -lt 4000 ]
}

@test "settings are read again at SIGHUP, and stay where they have faults" {
	bench_make left
	meter_plug left
	meter_plug right
	listen_start
	opened 1
	cp bench.ini good.ini
	printf '[meter right]\nport = right.tty\nprofile = no-such-profile\nwaiting = perhaps\n' >>bench.ini
	kill -HUP $daemon
	await grep -q 'settings stay as they were' err.txt
	grep -q 'bench.ini:9: waiting is "perhaps"' err.txt
	reading left 1 1.38
	told 1
	cp good.ini bench.ini
	printf '[meter right]\nport = right.tty\nprofile = meter.ini\n' >>bench.ini
	kill -HUP $daemon
	opened 2
	reading right 1 1.41
	reading left 2 1.39
	told 3
	sed -i '/meter left/,/profile/d' bench.ini
	kill -HUP $daemon
	await eval '[ "$(status_of "len(d[\"meters\"])")" = 1 ]'
	reading right 2 1.42
	told 4
	[ "$(ledger_of 'sorted((r["meter"], r["sequence"]) for r in d)')" = \
		"[('left', '0001'), ('left', '0002'), ('right', '0001'), ('right', '0002')]" ]
}

@test "SIGTERM ends it within two seconds in every state" {
	bench_make left away
	meter_plug left
	listen_start
	opened 1
	begin=$(date +%s%N)
	listen_stop
	listen_start
	opened 2
	meter_do left hangup
	await grep -q unplugged err.txt
	listen_stop
	[ $((($(date +%s%N) - begin) / 1000000)) -lt 4000 ]
	[ ! -e control ]
	tail -n 1 err.txt | grep -q stopped
}

@test "a second daemon of the same bench is refused, and the first does not mind" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	run "$BREWSPREAD" listen --bench "$PWD"
	[ "$status" -eq 3 ]
	[[ "$output" == *'another brewspread listens here'* ]]
	reading left 1 1.38
	told 1
}

@test "another program that writes to the ledger for a second costs no reading" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	python3 - <<-'END' 3>&- &
		import sqlite3, time
		c = sqlite3.connect("ledger.brewspread", isolation_level=None)
		c.execute("BEGIN IMMEDIATE")
		open("held", "w").close()
		time.sleep(1)
		c.execute("ROLLBACK")
	END
	await test -e held
	for i in 1 2 3 4 5; do reading left $i 1.38; done
	[ "$(wc -l <out.jsonl)" -lt 5 ]
	told 5
	[ "$(ledger_of '[r["sequence"] for r in d]')" = "['0001', '0002', '0003', '0004', '0005']" ]
}

@test "a full disk: what was told is kept, the failure is said, nothing is told meanwhile, and it goes on when there is room" {
	[ "$(id -u)" -eq 0 ] || skip "needs root to mount a small file system"
	mkdir -p "$BATS_TEST_TMPDIR/bench"
	mount -t tmpfs -o size=2m none "$BATS_TEST_TMPDIR/bench" || skip "nothing can be mounted here"
	bench_make left
	meter_plug left
	listen_start
	opened 1
	reading left 1 1.38
	told 1
	dd if=/dev/zero of=filler bs=4k 2>/dev/null || true
	for i in $(seq 2 400); do echo "send \"R $(printf %04d $i) 1.38 % 22.4 C\\r\\n\""; done >&"$fd_left"
	await eval '[ "$(status_of "d[\"ledger\"][\"storing\"]")" = False ]'
	stored=$(wc -l <out.jsonl)
	sleep 0.6
	[ "$(wc -l <out.jsonl)" -eq "$stored" ]
	[ "$stored" -lt 400 ]
	"$BREWSPREAD" status --bench . | grep -q 'NOT STORING'
	rm filler
	await eval '[ "$(status_of "d[\"ledger\"][\"storing\"]")" = True ]'
	"$BREWSPREAD" cup X1 --bench .
	await eval '[ "$(ledger_of "len(d)")" = 400 ]'
	[ "$(ledger_of '[int(r["sequence"]) for r in d] == list(range(1, 401))')" = True ]
	ledger_whole
	# its own output lay on that disk: what of it was lost was said, and the end says it again
	listen_stop || [ $? -eq 3 ]
	cd "$BATS_TEST_TMPDIR"
	umount "$BATS_TEST_TMPDIR/bench" || umount -l "$BATS_TEST_TMPDIR/bench"
}

@test "a clock set back changes no order, and is written down" {
	bench_make left
	meter_plug left
	echo '0 0' >clock
	with_clock listen_start
	opened 1
	reading left 1 1.38
	told 1
	echo '-7200 0' >clock
	reading left 2 1.39
	told 2
	await grep -q 'the clock was set back by 7200' err.txt
	[ "$(ledger_of '[r["sequence"] for r in d]')" = "['0001', '0002']" ]
	[ "$(ledger_of 'd[1]["received"] < d[0]["received"]')" = True ]
}

@test "after the machine slept the port is opened anew, and read on" {
	bench_make left
	meter_plug left
	echo '0 0' >clock
	with_clock listen_start
	opened 1
	reading left 1 1.38
	told 1
	echo '3600 3600' >clock
	await grep -q 'machine slept' err.txt
	opened 2
	reading left 2 1.39
	told 2
}

@test "many meters at full line speed lose nothing" {
	seconds=${FLEET_SECONDS:-4}
	bench_make
	for i in $(seq -w 32); do
		printf '[meter m%s]\nport = meter-%s\nprofile = meter.ini\n' "$i" "$i" >>bench.ini
	done
	mkfifo fleet.in
	"$TEST_BUILD/capture/fleet" . 32 11520 "$seconds" <fleet.in >fleet.out 3>&- 4>&- &
	exec 9>fleet.in
	await grep -q ready fleet.out
	"$BREWSPREAD" listen --bench . --plain >/dev/null 2>>err.txt 3>&- &
	daemon=$!
	await test -S control
	opened 32
	echo >&9
	for i in $(seq $((seconds * 5 + 150))); do grep -q done fleet.out && break; sleep 0.2; done
	sent=$(awk '/^sent/ { n += $2 } END { print n }' fleet.out)
	await eval '[ "$(status_of "sum(m[\"readings\"] for m in d[\"meters\"])")" = '"$sent"' ]'
	echo "# $sent lines, $(processor) ms of processor, $(grep late fleet.out)" >&3
	[ "$(python3 - <<-'END'
		import sqlite3
		c = sqlite3.connect("file:ledger.brewspread?mode=ro", uri=True)
		rows = c.execute("select meter, count(*), count(distinct sequence), max(cast(sequence as int)), sum(role != 0 or flags != 0) from readings group by meter").fetchall()
		print(len(rows) == 32 and all(n == d == m and bad == 0 for _, n, d, m, bad in rows))
	END
	)" = True ]
	grep VmRSS "/proc/$daemon/status" >&3
	# what a busy machine lets wait is bounded
	[ "$(awk '/VmRSS/ { print $2 }' "/proc/$daemon/status")" -lt 100000 ]
	listen_stop
	exec 9>&-
}

@test "with more than a thousand files open it reads, answers, and writes its report" {
	bench_make left
	printf '[meter right]\nport = /dev/../../..%s/right.tty\nprofile = meter.ini\n' "$PWD" >>bench.ini
	meter_plug left
	meter_plug right
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	export LD_PRELOAD=$TEST_BUILD/capture/pty_modem_shim.so
	crowded 1100
	unset LD_PRELOAD
	opened 2
	find "/proc/$daemon/fd" -lname '/dev/pts/*' -printf '%f\n' >ports
	[ "$(wc -l <ports)" -ge 2 ]
	[ "$(sort -n ports | head -n 1)" -ge 1024 ]
	readings left 1 1.38 1.39 1.38
	readings right 1 1.42 1.41 1.42
	told 6
	[ "$(status_of 'sum(m["readings"] for m in d["meters"])')" = 6 ]
	await test -s runs/tray/report.xlsx
	listen_stop
	[ "$(ledger_of 'sorted(r["shown"] for r in d)')" = "['1.38', '1.38', '1.39', '1.41', '1.42', '1.42']" ]
}

@test "at rest it wakes up for its timers alone, and takes little memory" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	reading left 1 1.38
	told 1
	sleep 0.3
	before=$(awk '/^voluntary/ { print $2 }' "/proc/$daemon/status")
	sleep 6.2
	after=$(awk '/^voluntary/ { print $2 }' "/proc/$daemon/status")
	# the port's settings are looked at every 3 s
	[ $((after - before)) -le 4 ]
	[ -n "$SANITIZED" ] || [ "$(awk '/VmRSS/ { print $2 }' "/proc/$daemon/status")" -lt 16000 ]
}

@test "a consumer of --json that does not read does not hold up capture" {
	bench_make left
	meter_plug left
	mkfifo consumer
	sleep 30 <consumer 3>&- &
	sleeper=$!
	"$BREWSPREAD" listen --bench . --json >consumer 2>err.txt 3>&- &
	daemon=$!
	opened 1
	meter_do left 'flood 3000'
	await eval '[ "$(status_of "d[\"meters\"][0][\"readings\"]")" = 3000 ]'
	[ "$(ledger_of 'len(d)')" = 3000 ]
	kill $sleeper
}

@test "a backup made while readings come is whole, where a copy of the file alone would not be" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	for i in 1 2 3; do reading left $i 1.38; done
	told 3
	"$BREWSPREAD" backup --bench . copy.brewspread
	[ "$(python3 -c 'import sqlite3; print(sqlite3.connect("copy.brewspread").execute("select count(*) from readings").fetchone()[0])')" = 3 ]
	run "$BREWSPREAD" backup --bench . copy.brewspread
	[ "$status" -eq 1 ]
}
