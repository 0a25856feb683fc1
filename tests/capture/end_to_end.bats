#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# A whole run, from two meters on the bench to the numbers in the workbook.

bats_require_minimum_version 1.5.0
load bench

# what the meters say their samples are at
TEMPERATURE=20.0

teardown() {
	bench_end
}

@test "two meters, a cable pulled in the middle, an amended reading: the workbook has the right numbers" {
	bench_make left right
	printf '[cups]\nsplit = yes\n' >>bench.ini
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	meter_plug right
	listen_start
	opened 2
	"$BREWSPREAD" cup --bench . zero
	readings left 1 0.00 0.00 0.00
	readings right 1 0.00 0.00 0.00
	told 6
	"$BREWSPREAD" cup --bench . --meter left A1
	"$BREWSPREAD" cup --bench . --meter right B1
	readings left 4 1.40
	readings right 4 1.50 1.51
	told 9
	# the cable goes in the middle of a line
	meter_do left 'send "R 0005 1.4"'
	sleep 0.1
	meter_do left hangup
	await grep -q 'left: .*unplugged' err.txt
	readings right 6 1.50
	meter_do left plug
	opened 3
	readings left 5 1.40 1.41 1.41 1.42 1.41
	told 15
	# a bubble: excluded, and read once more
	readings right 7 1.80 1.52 1.51
	told 18
	bubble=$(ledger_of '[r["id"] for r in d if r["shown"] == "1.80"][0]')
	"$BREWSPREAD" amend --bench . "$bubble" --exclude --reason 'bubble on the prism' --author 'bench'

	await grep -q 'B2 has 2 of 3 readings now; name that cup to read it again' err.txt
	"$BREWSPREAD" cup --bench . --meter right B2
	readings right 10 1.52
	told 19
	await test -s runs/tray/report.xlsx
	[ "$("$BREWSPREAD" close tray --bench .)" = ./runs/tray/report.xlsx ]
	[ "$(status_of 'd["run"]')" = None ]
	cat >by-hand.txt <<-'END'
		zero 0.00 0.00 0.00 0.00 0.00 0.00 @20
		A1 1.40 1.40 1.41 @20
		A2 1.41 1.42 1.41 @20
		B1 1.50 1.51 1.50 @20
		B2 1.52 1.51 1.52 @20
	END
	"$BREWSPREAD" report manifest.csv by-hand.txt --json >by-hand.json
	"$BREWSPREAD" report --bench . tray --json >from-bench.json || true
	/usr/bin/python3 - <<-'END'
		import json, openpyxl
		hand, bench = json.load(open("by-hand.json")), json.load(open("from-bench.json"))
		for a, b in zip(hand["brews"], bench["brews"], strict=True):
		    assert a["label"] == b["label"] and b["readings_used"] == 3, b
		    assert abs(a["yield_percent"] - b["yield_percent"]) < 1e-9, (a, b)
		# the mean of 1.50, 1.51, 1.50, times 280 over 20 (mass of beverage over dose)
		want = {"A1": (1.40 + 1.40 + 1.41) / 3 * 14, "A2": (1.41 + 1.42 + 1.41) / 3 * 14,
		        "B1": (1.50 + 1.51 + 1.50) / 3 * 14, "B2": (1.52 + 1.51 + 1.52) / 3 * 14}
		for b in bench["brews"]:
		    assert abs(b["yield_percent"] - want[b["label"]]) < 1e-9
		assert hand["comparison"]["pairs"][0]["verdict"] == bench["comparison"]["pairs"][0]["verdict"]
		book = openpyxl.load_workbook("runs/tray/report.xlsx", data_only=True)
		found = {}
		for row in book["Brews"].iter_rows(values_only=True):
		    for label, value in want.items():
		        if label in row:
		            found[label] = any(isinstance(c, float) and abs(c - value) < 1e-6 for c in row)
		assert found == dict.fromkeys(want, True), found
		said = [c for row in book["Readings"].iter_rows(values_only=True) for c in row if isinstance(c, str)]
		assert any("bubble on the prism" in c for c in said)
	END
	# the piece of a line that the pulled cable left is kept, and no reading
	[ "$(ledger_of '[r["line"] for r in d if r["role"] == "not read"]')" = "['R 0005 1.4']" ]
	listen_stop
	ledger_whole
}

@test "the report of an open run is there after each finished cup, and capture goes on while it is written" {
	bench_make left
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	listen_start
	opened 1
	readings left 1 1.40 1.40 1.41
	await test -s runs/tray/report.xlsx
	first=$(stat -c %i runs/tray/report.xlsx)
	readings left 4 1.41 1.42 1.41
	told 6
	await eval '[ "$(stat -c %i runs/tray/report.xlsx)" != '"$first"' ]'
	[ "$(ls runs/tray)" = "$(printf 'manifest.csv\nreport.xlsx')" ]
}

@test "a report that can't be written is said, and capture goes on" {
	bench_make left
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	mkdir runs/tray/report.xlsx
	meter_plug left
	listen_start
	opened 1
	readings left 1 1.40 1.40 1.41 1.44
	told 4
	await grep -q 'report of run tray was not written' err.txt
	[ "$(status_of 'd["report"]["state"]')" = failed ]
}

@test "pasted readings count for the run that is open, and its report takes them in" {
	bench_make left
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	meter_plug left
	listen_start
	opened 1
	printf 'A1 1.40 1.40 1.41 @20\n' | "$BREWSPREAD" paste --bench .
	await eval '[ "$(status_of "d[\"run\"][\"cups_done\"]")" = 1 ]'
	await test -s runs/tray/report.xlsx
}

@test "a run is closed without a daemon as well" {
	bench_make left
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	run "$BREWSPREAD" open other manifest.csv --bench .
	[ "$status" -eq 2 ]
	[[ "$output" == *'run tray is open'* ]]
	printf 'A1 1.40 1.40 1.41\nA2 1.40 1.41 1.41\nB1 1.5 1.5 1.5\nB2 1.5 1.5 1.5\n' | "$BREWSPREAD" paste --bench .
	run "$BREWSPREAD" close --bench .
	[ "$status" -eq 0 ]
	[ "$output" = ./runs/tray/report.xlsx ]
	[ -s runs/tray/report.xlsx ]
	run "$BREWSPREAD" close --bench .
	[ "$status" -eq 2 ]
	"$BREWSPREAD" check --bench . tray | grep -q '4 brews of 2 treatments, 12 readings'
}

@test "another manifest in a run's place is refused, the same one is not" {
	bench_make left
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	"$BREWSPREAD" open tray manifest.csv --bench . >/dev/null
	printf 'C1,fine,20,320,280,filter\n' >>manifest.csv
	run "$BREWSPREAD" open tray manifest.csv --bench .
	[ "$status" -eq 2 ]
	[[ "$output" == *'says something else'* ]]
	run "$BREWSPREAD" open ../tray manifest.csv --bench .
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" open new --bench .
	[ "$status" -eq 2 ]
}
