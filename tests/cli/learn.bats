#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# learn: a profile from captured lines, which then reads them.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
	: >bench.ini
}

# learned FILE VALUES: the proposed profile reads these values from the file it was proposed from.
learned() {
	"$BREWSPREAD" learn "$1" >proposed.ini || [ $? -eq 1 ] # 1: with doubts
	rm -f ledger.brewspread*
	"$BREWSPREAD" paste "$1" --profile proposed.ini >/dev/null || [ $? -eq 1 ]
	local got
	got=$("$BREWSPREAD" export | python3 -c 'import csv,sys; print(" ".join(r["shown"] for r in csv.DictReader(sys.stdin)))')
	[ "$got" = "$2" ] || { echo "read: $got"; cat proposed.ini; return 1; }
}

@test "labelled lines with number, temperature and a word for no reading" {
	printf 'R 0001 1.38 %% 22.4 C\r\nR 0002 1.39 %% 22.4 C\r\nLo\r\nR 0003 1.41 %% 22.5 C\r\n' >captured
	learned captured "1.38 1.39 1.41"
	grep -q '^end = crlf$' proposed.ini
	grep -q '^decimal = point$' proposed.ini
	grep -q '^no-reading = Lo$' proposed.ini
	[ "$("$BREWSPREAD" export | python3 -c 'import csv,sys; print([r["temp_c"] for r in csv.DictReader(sys.stdin)])')" = "['22.4', '22.4', '22.5']" ]
}

@test "decimal commas" {
	printf '1,38 %%\n1,40 %%\n1,41 %%\n' >captured
	learned captured "1.38 1.40 1.41"
	grep -q '^decimal = comma$' proposed.ini
}

@test "delimited lines" {
	printf '12;TDS;1.38;22.1 C\n13;TDS;1.40;22.1 C\n14;TDS;1.39;22.2 C\n' >captured
	learned captured "1.38 1.40 1.39"
}

@test "lines that end in a carriage return alone" {
	printf '1.38\r1.39\r1.40\r' >captured
	learned captured "1.38 1.39 1.40"
	grep -q '^end = cr$' proposed.ini
}

@test "what it would read from each line is shown, as comments of the profile" {
	printf 'R 0001 1.38 %% 22.4 C\nR 0002 1.39 %% 22.4 C\n' | "$BREWSPREAD" learn - >proposed.ini || [ $? -eq 1 ]
	grep -q '^; R 0001 1.38 % 22.4 C$' proposed.ini
	grep -q '^;   1.38 % TDS, 22.4 °C' proposed.ini
}

@test "from nothing, from words and from noise nothing is proposed" {
	: >nothing
	printf 'abc\ndef\n' >words
	head -c 4096 /dev/zero >noise
	for file in nothing words noise; do
		run --separate-stderr "$BREWSPREAD" learn $file
		[ "$status" -eq 1 ] || { echo "$file: $status $output"; return 1; }
		[[ "$stderr" == *"no profile can be proposed"* ]]
	done
	run "$BREWSPREAD" learn missing
	[ "$status" -eq 3 ]
}
