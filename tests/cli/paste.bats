#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# paste: text into the ledger, all of a text or nothing, and no text twice unless told to.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
	: >bench.ini
	printf 'zero 0.01 @22\nA1 1.38 1.39 @22.4\nA2: 1,41; 1,42\nnothing to read here\n' >cups.txt
}

ledger() {
	"$BREWSPREAD" export --format jsonl "${@:2}" |
		python3 -c 'import json,sys; d=[json.loads(l) for l in sys.stdin]; print(eval(sys.argv[1], {"d": d}))' "$1"
}

@test "a text's readings are stored with their lines, and so are the lines that give none" {
	run --separate-stderr "$BREWSPREAD" paste cups.txt
	[ "$status" -eq 0 ]
	[[ "$output" == "5 readings, numbers 1 to "*"; 1 other lines kept" ]]
	[[ "$stderr" == *'cups.txt:4:'*'line not read: nothing to read here'* ]]
	[ "$(ledger '[(r["role"], r["cup"], r["shown"], r["temp_c"]) for r in d]')" = \
		"[('zero', None, '0.01', 22.0), ('sample', 'A1', '1.38', 22.4), ('sample', 'A1', '1.39', 22.4), ('sample', 'A2', '1.41', None), ('sample', 'A2', '1.42', None)]" ]
	[ "$(ledger '[r["line"] for r in d if r["role"] == "not read"]' --lines)" = "['nothing to read here']" ]
}

@test "the same text is noticed, whatever it is called, and taken again only when told to" {
	"$BREWSPREAD" paste cups.txt
	cp cups.txt other.txt
	run --separate-stderr "$BREWSPREAD" paste other.txt
	[ "$status" -eq 1 ]
	[[ "$stderr" == *"was taken already, at 2"*"--again takes it once more"* ]]
	run "$BREWSPREAD" paste <cups.txt
	[ "$status" -eq 1 ]
	[ "$(ledger 'len(d)')" = 5 ]
	"$BREWSPREAD" paste other.txt --again
	[ "$(ledger 'len(d)')" = 10 ]
}

@test "standard input is taken, and belongs to the run that is open" {
	printf 'brew,treatment,dose_g,water_g,beverage_g\nA1,a,20,320,280\nA2,b,20,320,280\n' >manifest.csv
	"$BREWSPREAD" open tray manifest.csv
	printf 'A1 1.40\n' | "$BREWSPREAD" paste
	printf 'A2 1.41\n' | "$BREWSPREAD" paste --run tray
	[ "$(ledger '[(r["run"], r["cup"]) for r in d]')" = "[('tray', 'A1'), ('tray', 'A2')]" ]
	printf 'A2 1.43\n' >more.txt
	run --separate-stderr "$BREWSPREAD" paste more.txt --run other
	[ "$status" -eq 2 ]
	[[ "$stderr" == *'no run "other"'* ]]
	[ "$(ledger 'len(d)')" = 2 ]
}

@test "a meter's own lines are read with its profile" {
	printf '[line]\npattern = R (?<seq>\\d+) (?<value>\\d+\\.\\d\\d) %% (?<temp>\\d\\d\\.\\d) C\nno-reading = Lo\n' >meter.ini
	printf 'R 0001 1.38 %% 22.4 C\r\nLo\r\nR 0002 1.39 %% 22.5 C\r\n' >captured
	"$BREWSPREAD" paste captured --profile meter.ini
	[ "$(ledger '[(r["shown"], r["temp_c"]) for r in d]')" = "[('1.38', 22.4), ('1.39', 22.5)]" ]
}

@test "what cannot be taken stores nothing and says why" {
	run --separate-stderr "$BREWSPREAD" paste missing.txt
	[ "$status" -eq 3 ]
	[[ "$stderr" == *"missing.txt: No such file"* ]]
	run "$BREWSPREAD" paste cups.txt --profile no-such-profile
	[ "$status" -ge 2 ]
	run "$BREWSPREAD" paste cups.txt --bench nowhere
	[ "$status" -ne 0 ]
	: >empty.txt
	run --separate-stderr "$BREWSPREAD" paste empty.txt
	[ "$status" -le 1 ]
	[ "$(ledger 'len(d)' 2>/dev/null || echo 0)" = 0 ]
}

@test "a full disk stores nothing of a text, and it can be taken once there is room" {
	[ "$(id -u)" -eq 0 ] || skip "needs root, for a small disk"
	mkdir small
	mount -t tmpfs -o size=256k tmpfs small 2>/dev/null || skip "mounts are not allowed here"
	: >small/bench.ini
	"$BREWSPREAD" paste cups.txt --bench small
	head -c 300k /dev/zero >small/filling 2>/dev/null || true
	for i in $(seq 400); do echo "B$i 1.38 1.39 1.40 1.41 1.42"; done >long.txt
	run --separate-stderr "$BREWSPREAD" paste long.txt --bench small
	[ "$status" -eq 3 ]
	[[ "$stderr" == *"full"* || "$stderr" == *"No space left on device"* ]]
	rm small/filling
	[ "$("$BREWSPREAD" export --bench small | wc -l)" = 6 ]
	umount small
}

teardown() {
	mountpoint -q "$BATS_TEST_TMPDIR/small" && umount "$BATS_TEST_TMPDIR/small" || true
}

@test "what was noted by hand is of the meter that it was read from, where that is named" {
	printf '[meter]\nname = left\ncompensated = no\nunit = brix\n[line]\npattern = R (?<seq>\\d+) (?<value>\\d+\\.\\d\\d) %% (?<temp>\\d\\d\\.\\d) C\n' >meter.ini
	printf 'R 0001 1.38 %% 22.4 C\n' >captured
	"$BREWSPREAD" paste captured --profile meter.ini
	run --separate-stderr "$BREWSPREAD" paste cups.txt --meter left
	[ "$status" -eq 0 ]
	[[ "$stderr" != *'a new one'* ]]
	[ "$(ledger 'sorted({r["meter"] for r in d})')" = "['left']" ]
	[ "$(ledger 'sorted({r["unit"] for r in d})')" = "['brix']" ] # what its numbers mean, not what numbers mean as a rule
	# one meter in the audit too, not two of one name
	"$BREWSPREAD" audit --bench . --json >audit.json || [ $? -eq 1 ]
	[ "$(python3 -c 'import json; print([m["name"] for m in json.load(open("audit.json"))["meters"]])')" = "['left']" ]
	run --separate-stderr "$BREWSPREAD" paste cups.txt --again --meter right
	[ "$status" -eq 1 ] # taken, and doubted: a slip in the name would make two meters of one
	[[ "$stderr" == *'no reading here is of a meter called "right" so far; it is written down as a new one'* ]]
	[ "$(ledger 'sorted({r["meter"] for r in d})')" = "['left', 'right']" ]
	run --separate-stderr "$BREWSPREAD" paste captured --again --profile meter.ini --meter right
	[ "$status" -eq 0 ]
	[ "$(ledger '[r["meter"] for r in d][-1]')" = right ]
	"$BREWSPREAD" paste captured --again --profile meter.ini --meter left
	"$BREWSPREAD" audit --bench . --meter left --json >audit.json || [ $? -eq 1 ]
	[ "$(python3 -c 'import json; print(len(json.load(open("audit.json"))["meters"]))')" = 1 ]
	run "$BREWSPREAD" paste captured --again --meter ''
	[ "$status" -eq 2 ]
}
