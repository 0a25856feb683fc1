#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# report, check and convert as a user runs them: what they print where, how they end, what they leave behind.

bats_require_minimum_version 1.5.0

setup() {
	mkdir "$BATS_TEST_TMPDIR/bench"
	cd "$BATS_TEST_TMPDIR/bench"
	cat >brews.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type
		A1,coarse,20,320,280,filter
		A2,coarse,20,320,280,filter
		B1,fine,20,320,280,filter
		B2,fine,20,320,280,filter
	END
	cat >cups.txt <<-'END'
		zero 0.00 0.00 @20
		A1 1.40 1.40 1.41
		A2 1.41 1.42 1.41
		B1 1.50 1.51 1.50
		B2 1.52 1.51 1.52
	END
}

json() { # one value of the JSON on standard input
	python3 -c 'import json,sys; d=json.load(sys.stdin); print(eval(sys.argv[1], {"d": d}))' "$1"
}

@test "a report of good data ends with 0, prints where it is and nothing else" {
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	[ "$status" -eq 0 ]
	[ "$output" = out.xlsx ]
	[ -z "$stderr" ]
	unzip -tq out.xlsx
	[ "$(ls)" = "$(printf 'brews.csv\ncups.txt\nout.xlsx')" ]
}

@test "without --output the workbook is called after the manifest" {
	run "$BREWSPREAD" report brews.csv cups.txt
	[ "$status" -eq 0 ]
	[ -s brews.xlsx ]
}

@test "the yields are those of a calculation by hand" {
	"$BREWSPREAD" report brews.csv cups.txt --json >out.json
	# mean of 1.40 1.40 1.41, times 280/20
	run json 'abs(d["brews"][0]["yield_percent"] - (1.40 + 1.40 + 1.41) / 3 * 14) < 1e-9' <out.json
	[ "$output" = True ]
	run json 'd["comparison"]["pairs"][0]["verdict"]' <out.json
	[ "$output" = differ ]
	[ ! -e brews.xlsx ]
}

@test "a decimal comma in the locale changes nothing" {
	LC_ALL=de_DE.UTF-8 "$BREWSPREAD" report brews.csv cups.txt --json >comma.json
	LC_ALL=C "$BREWSPREAD" report brews.csv cups.txt --json >point.json
	cmp comma.json point.json
	LC_ALL=de_DE.UTF-8 "$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	unzip -p out.xlsx xl/worksheets/sheet3.xml >sheet.xml
	run grep -cE '<v>-?[0-9]+,[0-9]' sheet.xml
	[ "$output" = 0 ]
}

@test "the same input gives the same bytes, also seconds later" {
	"$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	mv out.xlsx first.xlsx
	sleep 2
	"$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	cmp first.xlsx out.xlsx
}

@test "faults are told with their places, what is good is reported, and the exit status is 1" {
	printf 'A1,fine,l8.5,320,280,filter\n' >>brews.csv
	printf 'B9 1.44\n' >>cups.txt
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -o out.xlsx
	[ "$status" -eq 1 ]
	[ -s out.xlsx ]
	[[ "$stderr" == *'brews.csv:6:1: '*'A1'*'line 2'* ]]
	[[ "$stderr" == *'cups.txt:6:'*'no brew "B9"'* ]]
}

@test "check writes nothing" {
	run "$BREWSPREAD" check brews.csv cups.txt
	[ "$status" -eq 0 ]
	[ "$(ls)" = "$(printf 'brews.csv\ncups.txt')" ]
}

@test "a missing file is the system's failure: exit status 3, with its name" {
	run "$BREWSPREAD" report nothing.csv cups.txt
	[ "$status" -eq 3 ]
	[[ "$output" == *'nothing.csv'*'No such file'* ]]
	run "$BREWSPREAD" report brews.csv nothing.txt
	[ "$status" -eq 3 ]
	[ ! -e brews.xlsx ]
}

@test "files that are no manifest are refused with a reason: empty, binary, a folder" {
	: >empty.csv
	head -c 100000 "$BREWSPREAD" >binary.csv
	run "$BREWSPREAD" check empty.csv
	[ "$status" -eq 1 ]
	[[ "$output" == *'empty.csv'* ]]
	run "$BREWSPREAD" check binary.csv
	[ "$status" -eq 1 ]
	[[ "$output" == *'binary.csv'* ]]
	run "$BREWSPREAD" check .
	[ "$status" -eq 3 ]
}

@test "a line of 100 MB ends within seconds and with a reason" {
	head -c 100000000 /dev/zero | tr '\0' 'x' >long.csv
	run timeout 20 "$BREWSPREAD" check long.csv
	[ "$status" -eq 1 ]
	[[ "$output" == *'long.csv:1:'* ]]
	run timeout 20 "$BREWSPREAD" report brews.csv long.csv -o out.xlsx
	[ "$status" -eq 1 ]
	rm long.csv
}

@test "readings come from standard input as well" {
	run "$BREWSPREAD" report brews.csv - -o out.xlsx <cups.txt
	[ "$status" -eq 0 ]
	[ -s out.xlsx ]
}

@test "wrong use says what was expected and ends with 2" {
	run "$BREWSPREAD"
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" repotr
	[ "$status" -eq 2 ]
	[[ "$output" == *'"repotr"'* ]]
	run "$BREWSPREAD" report brews.csv
	[ "$status" -eq 2 ]
	[[ "$output" == *'MANIFEST READINGS'* ]]
	run "$BREWSPREAD" report brews.csv cups.txt --margin much
	[ "$status" -eq 2 ]
	[[ "$output" == *'margin'*'"much"'*'points'* ]]
	run "$BREWSPREAD" report brews.csv cups.txt --margin
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" report brews.csv cups.txt --control medium
	[ "$status" -eq 2 ]
	[[ "$output" == *'coarse, fine'* ]]
}

@test "settings come from a file, and an option goes before it" {
	printf '[comparison]\nmargin = 2\ncontrol = coarse\n' >bench.ini
	"$BREWSPREAD" report brews.csv cups.txt --json --settings bench.ini >file.json
	run json 'd["comparison"]["margin"], d["comparison"]["control"]' <file.json
	[ "$output" = "(2.0, 'coarse')" ]
	"$BREWSPREAD" report brews.csv cups.txt --json --margin 3 --settings bench.ini >both.json
	run json 'd["comparison"]["margin"]' <both.json
	[ "$output" = 3.0 ]
}

@test "all faults of a settings file are told in one go" {
	printf '[comparison]\nmargin = wide\nmood = good\n[types]\nmoka = 9\n' >bench.ini
	run "$BREWSPREAD" report brews.csv cups.txt --settings bench.ini
	[ "$status" -eq 1 ]
	[[ "$output" == *'bench.ini:2:'*'bench.ini:3:'*'bench.ini:5:'* ]]
}

@test "a folder that can't be written to is the system's failure, and nothing is left there" {
	[ "$(id -u)" -ne 0 ] || skip "root may write everywhere"
	mkdir shut
	chmod a-w shut
	run "$BREWSPREAD" report brews.csv cups.txt -o shut/out.xlsx
	[ "$status" -eq 3 ]
	[ -z "$(ls -A shut)" ]
}

@test "convert shows each step" {
	run "$BREWSPREAD" convert 1.62 --unit brix --temp 27.5 --type filter --uncompensated
	[ "$status" -eq 0 ]
	[[ "$output" == *'TDS of the beverage'* ]]
}

# 1.40 on a Brix scale at 25 °C, zeroed at 20 °C, is 1.7447; on a TDS scale of 0.85 it is 1.6935; zeroed at 25 °C 1.4073;
# all to 0.002 (computed separately, tests/reference/data/optics-and-yield.md)
@test "convert agrees with worked corrections" {
	run json 'abs(d["brix"] - 1.7447) < 0.002' < <("$BREWSPREAD" convert 1.40 --unit brix --temp 25 --uncompensated --zero 0 --zero-temp 20 --json)
	[ "$output" = True ]
	run json 'abs(d["tds_percent"] - 1.6935) < 0.002' < <("$BREWSPREAD" convert 1.40 --temp 25 --uncompensated --zero 0 --zero-temp 20 --json)
	[ "$output" = True ]
	run json 'abs(d["tds_percent"] - 1.4073) < 0.002' < <("$BREWSPREAD" convert 1.40 --temp 25 --uncompensated --zero 0 --zero-temp 25 --json)
	[ "$output" = True ]
	run "$BREWSPREAD" convert 138
	[ "$status" -eq 1 ]
	run "$BREWSPREAD" convert one
	[ "$status" -eq 2 ]
}

@test "a time of day belongs to the date of the lines beside it, and without one is shown as a time" {
	printf 'brew,treatment,dose_g,water_g,beverage_g\nA1,a,20,320,280\nB1,b,20,320,280\n' >brews.csv
	# the zero goes from 0.00 to 0.10 % between nine and eleven: at ten half of that is taken off
	for first in '2026-03-14 09:00' '09:00'; do
		for last in '2026-03-14 11:00' '11:00'; do
			printf '%s zero 0.00\n10:00 A1 1.40\n10:00 B1 1.40\n%s zero 0.10\n' "$first" "$last" >cups.txt
			"$BREWSPREAD" report brews.csv cups.txt --json >out.json 2>/dev/null || [ $? -eq 1 ]
			python3 -c '
import json
d = json.load(open("out.json"))
r = [r for r in d["readings"] if r["label"] == "A1"][0]
print(r["taken"], [round(b["tds_percent"], 3) for b in d["brews"]][0])' >>seen
		done
	done
	cat seen
	[ "$(cut -d ' ' -f 2 seen | sort -u | wc -l)" -eq 1 ]
	[ "$(grep -c '^2026-03-14T10:00:00' seen)" -eq 3 ]
	[ "$(grep -c '^10:00:00' seen)" -eq 1 ]
	awk '{ exit !($2 > 1.345 && $2 < 1.355) }' seen
	# past midnight
	printf '2026-03-14 23:00 zero 0.00\n23:50 A1 1.40\n00:10 B1 1.40\n01:00 zero 0.10\n' >cups.txt
	"$BREWSPREAD" report brews.csv cups.txt --json 2>/dev/null >out.json || [ $? -eq 1 ]
	grep -q '2026-03-15T00:10:00' out.json
}
