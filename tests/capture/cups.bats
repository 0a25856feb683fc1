#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Which cup is on the prism: told, moved on by itself, and doubted while it can be read again.

bats_require_minimum_version 1.5.0
load bench

teardown() {
	bench_end
}

cups() {
	ledger_of '" ".join(r["cup"] or r["role"] for r in d)'
}

run_start() {
	bench_make "${@:-left}"
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	local name
	for name in "${@:-left}"; do meter_plug "$name"; done
	listen_start
	opened $#
}

@test "with a run open each cup gets three readings, then the next one's turn comes, and that is said" {
	run_start left
	readings left 1 1.38 1.38 1.39 1.41
	told 4
	[ "$(cups)" = "A1 A1 A1 A2" ]
	await grep -q 'A1 has its 3 readings; next is A2' err.txt
	readings left 5 1.41 1.42 1.50 1.50 1.51 1.52 1.52 1.51 1.33
	told 13
	[ "$(cups)" = "A1 A1 A1 A2 A2 A2 B1 B1 B1 B2 B2 B2 sample" ]
	await grep -q 'every cup has' err.txt
}

@test "the cup is named by its label, by zero, by standard and its strength" {
	bench_make left
	meter_plug left
	listen_start
	opened 1
	"$BREWSPREAD" cup --bench . A3
	reading left 1 1.38
	"$BREWSPREAD" cup --bench . zero
	reading left 2 0.01
	"$BREWSPREAD" cup --bench . standard 5.00
	reading left 3 4.98
	"$BREWSPREAD" cup --bench . '"zero"'
	reading left 4 1.37
	"$BREWSPREAD" cup --bench . --off
	reading left 5 1.37
	told 5
	[ "$(cups)" = "A3 zero standard zero sample" ]
	[ "$(ledger_of '(d[2]["standard_percent"], d[3]["role"])')" = "(5.0, 'sample')" ]
	run "$BREWSPREAD" cup --bench . standard
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" cup --bench . --next
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" cup --bench .
	[ "$status" -eq 2 ]
}

@test "a zero check in between goes back to the cup that was there" {
	run_start left
	reading left 1 1.38
	"$BREWSPREAD" cup --bench . zero
	readings left 2 0.00 0.00 0.01 1.38
	told 5
	[ "$(cups)" = "A1 zero zero zero A1" ]
}

@test "on, back, and once more" {
	run_start left
	"$BREWSPREAD" cup --bench . --next
	"$BREWSPREAD" cup --bench . --next
	reading left 1 1.50
	"$BREWSPREAD" cup --bench . --back
	readings left 2 1.41 1.41 1.41 1.50
	"$BREWSPREAD" cup --bench . a1
	readings left 6 1.38 1.38 1.38
	"$BREWSPREAD" cup --bench . --back
	"$BREWSPREAD" cup --bench . --again
	readings left 9 1.38
	told 9
	[ "$(cups)" = "B1 A2 A2 A2 B1 A1 A1 A1 A2" ]
}

@test "a label that no brew has is taken, and doubted" {
	run_start left
	"$BREWSPREAD" cup --bench . C9
	reading left 1 1.38
	told 1
	await grep -q 'no cup of run tray is called "C9"' err.txt
	[ "$(cups)" = C9 ]
}

@test "a reading far from the cup's others is doubted while the cup is there" {
	run_start left
	readings left 1 1.38 1.39 1.38 1.41 1.41 1.48
	told 6
	await grep -q 'read A2 again: the last one is 0.070 above' err.txt
	[ "$(sed -n 6p out.jsonl | of 'd["warning"] is not None')" = True ]
	[ "$(sed -n 5p out.jsonl | of 'd["warning"]')" = None ]
}

@test "a slip in one cup is not what the next ones may differ by, once a few cups agreed" {
	run_start left
	readings left 1 1.38 1.73 1.38
	readings left 4 1.40 1.41 1.40 1.40 1.41 1.40 1.40 1.41 1.40
	told 12
	"$BREWSPREAD" cup --bench . spare
	readings left 13 1.41 1.40 1.49
	told 15
	[ "$(sed -n 15p out.jsonl | of 'd["warning"] is not None')" = True ]
}

@test "readings that go on falling are called drifting" {
	run_start left
	readings left 1 1.46 1.44 1.42
	told 3
	await grep -q 'wait, then read A1 again: it keeps falling, by 0.04' err.txt
}

@test "two meters at once each have their own turn" {
	run_start left right
	reading left 1 1.38
	reading right 1 1.40
	readings left 2 1.38 1.38 1.42
	readings right 2 1.40
	"$BREWSPREAD" cup --bench . --meter right B2
	readings right 3 1.55
	told 7
	[ "$(ledger_of '[r["cup"] for r in d if r["meter"] == "left"]')" = "['A1', 'A1', 'A1', 'A2']" ]
	[ "$(ledger_of '[r["cup"] for r in d if r["meter"] == "right"]')" = "['A1', 'A1', 'B2']" ]
	run "$BREWSPREAD" cup --bench . --meter middle A1
	[ "$status" -eq 2 ]
	[[ "$output" == *'"middle"'* ]]
}

@test "two meters that share the work pass over cups that the other has read" {
	bench_make left right
	printf '[cups]\nsplit = yes\n' >>bench.ini
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	meter_plug right
	listen_start
	opened 2
	"$BREWSPREAD" cup --bench . --meter right A2
	readings right 1 1.40 1.40 1.40
	readings left 1 1.38 1.38 1.38 1.50
	told 7
	[ "$(ledger_of '[r["cup"] for r in d if r["meter"] == "left"]')" = "['A1', 'A1', 'A1', 'B1']" ]
}

@test "the manifest's order column is the order of reading" {
	bench_make left
	sed -i '1s/$/,order/; 2s/$/,4/; 3s/$/,3/; 4s/$/,2/; 5s/$/,1/' manifest.csv
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	listen_start
	opened 1
	readings left 1 1.38 1.38 1.38 1.40
	told 4
	[ "$(cups)" = "B2 B2 B2 B1" ]
}

@test "where the manifest tells when each cup is read there is no turn, and the report joins by time" {
	bench_make left
	today=$(date -u +%Y-%m-%d)
	sed -i "1s/\$/,read_from,read_to/; 2s/\$/,$today 00:00,$today 23:59:59/; 3,5s/\$/,2001-01-01 00:00,2001-01-01 01:00/" manifest.csv
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	listen_start
	opened 1
	readings left 1 1.38 1.39
	told 2
	[ "$(cups)" = "sample sample" ]
	"$BREWSPREAD" report --bench . tray --json >report.json 2>/dev/null || true
	[ "$(of '[b["readings_used"] for b in d["brews"]]' <report.json)" = "[2, 0, 0, 0]" ]
}

@test "a manifest that is saved is read again, its faults are said, and the cup stays on the prism" {
	run_start left
	readings left 1 1.38 1.38 1.38 1.41
	told 4
	# as an editor does: a new file in the old one's place
	{ head -n 3 manifest.csv; printf 'A3,coarse,l8,320,280,filter\n'; tail -n 2 manifest.csv; } >runs/tray/next
	mv runs/tray/next runs/tray/manifest.csv
	await grep -q 'manifest was saved' err.txt
	await grep -q 'manifest.csv:4:.*"l8"' err.txt
	readings left 5 1.41 1.41 1.44
	told 7
	[ "$(cups)" = "A1 A1 A1 A2 A2 A2 A3" ]
}

@test "half a manifest is not read: it is waited for until it is still" {
	run_start left
	for i in 1 2 3 4 5 6 7 8; do
		printf 'C%d,fine,20,320,280,filter\n' $i >>runs/tray/manifest.csv
		sleep 0.3
	done
	await grep -q 'manifest was saved' err.txt
	[ "$(grep -c 'manifest was saved' err.txt)" = 1 ]
	[ "$(status_of 'd["run"]["cups"]')" = 12 ]
}

@test "a daemon that was killed goes on with the cup that was on the prism" {
	run_start left
	readings left 1 1.38 1.38 1.38
	"$BREWSPREAD" cup --bench . B1
	reading left 4 1.50
	told 4
	kill -KILL $daemon
	wait $daemon || true
	listen_start
	opened 2
	readings left 5 1.50 1.50 1.52
	told 7
	[ "$(cups)" = "A1 A1 A1 B1 B1 B1 B2" ]
}

@test "a label that the meter itself sends goes before the turn" {
	run_start left
	sed -i 's/^pattern = /pattern = (?:(?<label>\\w+): )?/' meter.ini
	kill -HUP $daemon
	opened 2
	meter_do left 'send "B2: R 0001 1.52 % 22.4 C\r\n"'
	reading left 2 1.38
	told 2
	[ "$(cups)" = "B2 A1" ]
}

@test "keys of the live view move the cup, and the terminal is given back" {
	command -v python3 >/dev/null
	bench_make left
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	cat >terminal.py <<-'END'
		import os, pty, select, sys, termios, time
		pid, fd = pty.fork()
		if pid == 0:
		    os.execv(sys.argv[1], [sys.argv[1], "listen", "--bench", "."])
		before = termios.tcgetattr(fd)
		seen = b""
		def see(what, seconds=10):
		    global seen
		    end = time.time() + seconds
		    while what not in seen and time.time() < end:
		        if select.select([fd], [], [], 0.1)[0]:
		            try: seen += os.read(fd, 65536)
		            except OSError: break
		    assert what in seen, (what, seen[-3000:])
		    seen = seen[seen.index(what) + len(what):]
		see(b"A1   reading 1 of 3")
		os.write(fd, b"n"); see(b"A2   reading 1 of 3")
		os.write(fd, b"z"); see(b"zero   reading 1 of 3")
		os.write(fd, b"b"); see(b"reading 1 of 3")
		os.write(fd, b"cB2\r"); see(b"B2   reading 1 of 3")
		os.write(fd, b"\x1b[A"); time.sleep(0.1)
		os.write(fd, b"q"); see(b"\x1b[?1049l")
		assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
		print("good")
	END
	run python3 terminal.py "$BREWSPREAD"
	echo "$output"
	[ "${lines[-1]}" = good ]
}

@test "on a low and narrow terminal the keys stay in sight, what is cut says so, and a meter that is away is told at its cup" {
	command -v python3 >/dev/null
	bench_make left right
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	cat >terminal.py <<-'END'
		import fcntl, os, pty, re, select, struct, sys, termios, time
		ROWS, COLUMNS = 6, 44
		parent, child = os.openpty()
		fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
		pid = os.fork()
		if pid == 0:
		    os.close(parent)
		    os.login_tty(child) if hasattr(os, "login_tty") else (os.setsid(), fcntl.ioctl(child, termios.TIOCSCTTY, 0), [os.dup2(child, n) for n in (0, 1, 2)])
		    os.execv(sys.argv[1], [sys.argv[1], "listen", "--bench", "."])
		os.close(child)
		seen, end = b"", time.time() + 10
		def screen():
		    shown = re.sub(r"\x1b\[[0-9;]*m|\x1b\[[KJ]", "", seen.split(b"\x1b[H")[-2].decode()) if seen.count(b"\x1b[H") > 1 else ""
		    return [row.rstrip("\r") for row in shown.rstrip().split("\r\n")] # the terminal adds one
		def good():
		    rows = screen()
		    return (rows[-1] == "n next  b back  z zero  c cup  q quit" and len(rows) == ROWS
		        and all(len(row) <= COLUMNS for row in rows) and any(row.endswith("\u2026") for row in rows)
		        and any("left: A1   reading 1 of 3" in row for row in rows)
		        and any("right: A1   its meter is away" in row for row in rows))
		while not good() and time.time() < end:
		    if select.select([parent], [], [], 0.1)[0]:
		        seen += os.read(parent, 65536)
		    else:
		        fcntl.ioctl(parent, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
		        os.kill(pid, 28) # the view is shown anew
		assert good(), screen()
		os.write(parent, b"q")
		while True:
		    try:
		        if not os.read(parent, 65536): break
		    except OSError: break
		assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
		print("good")
	END
	run python3 terminal.py "$BREWSPREAD"
	echo "$output"
	[ "${lines[-1]}" = good ]
}
