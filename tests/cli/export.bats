#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# export: one row a reading, one header line, and nothing in it that a spreadsheet program would run.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
	: >bench.ini
	printf 'brew,treatment,dose_g,water_g,beverage_g\nA1,a,20,320,280\n' >manifest.csv
	printf '"=1+1" 1.50\n"+A1" 1.51\n"-2" 1.52\n"@SUM" 1.53\nplain 1,54 @21,5\n' | "$BREWSPREAD" paste
	"$BREWSPREAD" open tray manifest.csv >/dev/null
	printf 'A1 1.40\n' | "$BREWSPREAD" paste
}

@test "CSV has one header line, one row a reading, and no formulas" {
	"$BREWSPREAD" export >out.csv
	python3 - <<-'END'
		import csv
		rows = list(csv.DictReader(open("out.csv", newline="")))
		assert len(rows) == 6
		assert [r["cup"] for r in rows] == ["'=1+1", "'+A1", "'-2", "'@SUM", "plain", "A1"], rows
		assert [r["shown"] for r in rows] == ["1.50", "1.51", "1.52", "1.53", "1.54", "1.40"]
		assert rows[4]["temp_c"] == "21.5" and rows[5]["run"] == "tray" and rows[0]["run"] == ""
		assert all(v[:1] not in tuple("=+-@\t\r") or v.lstrip("-").replace(".", "").isdigit() for r in rows for v in r.values()), rows
	END
}

@test "JSON lines are one object a reading, with what the line said" {
	"$BREWSPREAD" export --format jsonl >out.jsonl
	python3 - <<-'END'
		import json
		rows = [json.loads(l) for l in open("out.jsonl")]
		assert [r["cup"] for r in rows][:2] == ["=1+1", "+A1"]
		assert rows[4]["value"] == 1.54 and rows[4]["shown"] == "1.54" and rows[4]["temp_c"] == 21.5
		assert rows[4]["line"] == "plain 1,54 @21,5"
		assert [r["id"] for r in rows] == sorted({r["id"] for r in rows})
	END
}

@test "a run, a meter and a span of time can be had alone" {
	[ "$("$BREWSPREAD" export --run tray | wc -l)" = 2 ]
	[ "$("$BREWSPREAD" export --since 2100-01-01 | wc -l)" = 1 ]
	[ "$("$BREWSPREAD" export --until 2100-01-01 | wc -l)" = 7 ]
	[ "$("$BREWSPREAD" export --since 2001-02-03T04:05+01:00 | wc -l)" = 7 ]
	run "$BREWSPREAD" export --run nowhere
	[ "$status" -eq 2 ]
	[[ "$output" == *'no run "nowhere"'* ]]
	run "$BREWSPREAD" export --meter nobody
	[ "$status" -eq 2 ]
	[[ "$output" == *'no meter "nobody"'* ]]
}

@test "bytes that are no text come out escaped, in a line of their own" {
	printf 'A1 1.38 \xff\x01 \\ end\r\n' >odd
	"$BREWSPREAD" paste odd || [ $? -eq 1 ]
	"$BREWSPREAD" export --lines >out.csv
	python3 - <<-'END'
		import csv
		last = list(csv.DictReader(open("out.csv", newline="", encoding="utf-8")))[-1]
		assert "\\x01" in last["line"] and "\\\\" in last["line"], last
	END
}

@test "a format, a moment or a bench that makes no sense is wrong use" {
	for wrong in "--format pdf" "--since yesterday" "--until 2026-13-01" "unexpected"; do
		run "$BREWSPREAD" export $wrong
		[ "$status" -eq 2 ] || { echo "$wrong: $status"; return 1; }
	done
	mkdir empty
	: >empty/bench.ini
	run --separate-stderr "$BREWSPREAD" export --bench empty
	[ "$status" -ne 0 ] || [ "$(wc -l <<<"$output")" -le 1 ]
	printf 'no ledger at all' >empty/ledger.brewspread
	run --separate-stderr "$BREWSPREAD" export --bench empty
	[ "$status" -eq 1 ]
	[[ "$stderr" == *"empty/ledger.brewspread: is not a ledger"* ]]
}

@test "a reader that goes away early is no crash" {
	for i in $(seq 2000); do echo "C$i 1.38 1.39 1.40 1.41"; done | "$BREWSPREAD" paste
	run bash -c '"$BREWSPREAD" export | head -n 1; exit ${PIPESTATUS[0]}'
	[ "$status" -eq 3 ] || [ "$status" -eq 0 ] || [ "$status" -eq 141 ]
	[[ "$output" == number,* ]]
}
