#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What a report says and in which unit, and what it says of options that it can't follow.

bats_require_minimum_version 1.5.0

setup() {
	mkdir "$BATS_TEST_TMPDIR/bench"
	cd "$BATS_TEST_TMPDIR/bench"
	cat >brews.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type,brew_time (min:s),score
		A1,coarse,20,320,280,filter,3:00,10
		A2,coarse,20,320,280,filter,3:02,12
		A3,coarse,20,320,280,filter,3:01,11
		B1,fine,20,320,280,filter,3:30,40
		B2,fine,20,320,280,filter,3:32,42
		B3,fine,20,320,280,filter,3:31,41
	END
	cat >cups.txt <<-'END'
		zero 0.00 0.00 @20
		A1 1.40 1.40 1.41
		A2 1.41 1.42 1.41
		A3 1.41 1.40 1.41
		B1 1.50 1.51 1.50
		B2 1.52 1.51 1.52
		B3 1.51 1.51 1.52
	END
}

json() { # one value of the JSON on standard input
	python3 -c 'import json,sys; d=json.load(sys.stdin); print(eval(sys.argv[1], {"d": d}))' "$1"
}

@test "a duration is compared in seconds, whatever the header has" {
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt --response brew_time -s -f csv -o out
	[ "$status" -eq 0 ]
	[[ "$output" == *"the brew time with fine is 30.00 s higher"* ]]
	grep -q '^treatment,.*brew time (s)' out/treatments.csv
	"$BREWSPREAD" report brews.csv cups.txt --response brew_time --json >out.json
	[ "$(json 'd["comparison"]["unit"]' <out.json)" = s ]
}

@test "a response without a unit leaves no gap" {
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt --response score -s -f md,html -o out
	[ "$status" -eq 0 ]
	[[ "$output" == *"the score with fine is 30.00 higher"* ]]
	[[ "$output" != *"  "* ]]
	[[ "$output" != *" )"* ]]
	grep -q '| Difference |' out/write-up.md
	run ! grep -q 'in \.\|Difference, *|\|  *·' out/write-up.md
	run ! grep -q '±[0-9.]* <' out/write-up.html
}

@test "an option given twice is refused" {
	for twice in "--response tds --response yield" "--output a.xlsx -o b.xlsx" "--margin 1 --margin 2"; do
		run "$BREWSPREAD" report brews.csv cups.txt $twice
		[ "$status" -eq 2 ]
		[[ "$output" == *"is given twice; expected it once"* ]]
	done
}

@test "JSON has the uncertainty's sources, the zeros, and null for a time that is not known" {
	"$BREWSPREAD" report brews.csv cups.txt --json >out.json
	[ "$(json 'round(sum(s["share_percent"] for s in d["uncertainty"]["sources"]), 6)' <out.json)" = 100.0 ]
	[ "$(json 'sorted(d["uncertainty"]["sources"][0])' <out.json)" = "['common', 'points', 'share_percent', 'source', 'u', 'unit']" ]
	# simulation and first order agree for a yield within a few per cent
	[ "$(json '0.9 < d["uncertainty"]["u_by_simulation"] / [b["uncertainty"]["u"] for b in d["brews"] if b["label"] == d["uncertainty"]["brew"]][0] < 1.1' <out.json)" = True ]
	[ "$(json 'd["zeros"][0]["offset_percent_tds"]' <out.json)" = 0.0 ]
	[ "$(json 'all(r["taken"] is None for r in d["readings"])' <out.json)" = True ]
}

@test "check tells its faults as JSON, with their places" {
	echo "Z9 1.40" >>cups.txt
	echo "A1 what" >>cups.txt
	run --separate-stderr "$BREWSPREAD" check brews.csv cups.txt --json
	[ "$status" -eq 1 ]
	[ -z "$stderr" ]
	[ "$(json '[(f["severity"], f["file"], f["line"]) for f in d["faults"]]' <<<"$output")" = "[('error', 'cups.txt', 8), ('error', 'cups.txt', 9)]" ]
	[ "$(json 'sorted(d["faults"][0])' <<<"$output")" = "['column', 'file', 'line', 'severity', 'text']" ]
	[ "$(json 'd["brews"], d["treatments"]' <<<"$output")" = "(6, 2)" ]
	echo "nothing" >brews.csv
	run --separate-stderr "$BREWSPREAD" check brews.csv cups.txt --json
	[ "$status" -eq 1 ]
	[ "$(json 'len(d["faults"]) > 0 and "brews" not in d' <<<"$output")" = True ]
}

@test "half of what is known from earlier runs is refused, and none of it is used for another response" {
	for half in "--history-sd 0.3" "--history-df 8"; do
		run "$BREWSPREAD" report brews.csv cups.txt $half
		[ "$status" -eq 2 ]
		[[ "$output" == *"; expected both"* ]]
	done
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt --history-sd 0.3 --history-df 8 --response tds
	[ "$status" -eq 0 ]
	[[ "$stderr" == "note: history-sd is in yield points, so it is not used: tds is compared" ]]
}

@test "one quoted decimal comma among points is the fault, not the points" {
	sed -e '1s/,brew_time.*/,thickness/' -e 's/,3:.*//' brews.csv >thick.csv
	sed -i -e '2s/,20,/,"18,5",/;2s/$/,1.0/;3s/$/,1.5/;4s/$/,2.5/;5s/$/,2.0/;6s/$/,2.2/;7s/$/,2.1/' thick.csv
	run --separate-stderr "$BREWSPREAD" check thick.csv cups.txt
	[ "$status" -eq 1 ]
	[[ "$stderr" == *'thick.csv:2:11: '*'"18,5" has a decimal comma, but this file has the point'* ]]
	[[ "$stderr" != *'taken as words'* ]]
	"$BREWSPREAD" report thick.csv cups.txt --response thickness --json 2>told >out.json || [ $? -eq 1 ]
	[ "$(json 'max(b["response"] for b in d["brews"])' <out.json)" = 2.5 ]
}

@test "a column with the other decimal mark is told of" {
	sed -e '1s/,brew_time.*/,thickness/' -e 's/,3:.*/,1.5/' -e '2,$s/,20,/,20.5,/' brews.csv | sed -e 's/,/;/g' -e 's/20\.5/20,5/' >marks.csv
	run --separate-stderr "$BREWSPREAD" check marks.csv cups.txt
	[[ "$stderr" == *'marks.csv:2:'*'"1.5" has a decimal point, but this file has the comma; the column is taken as words'* ]]
}

@test "the same readings given twice count once, and that is said" {
	cp cups.txt again.txt
	for twice in cups.txt again.txt; do
		run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt $twice --json
		[ "$status" -eq 1 ]
		[[ "$stderr" == *"$twice: warning: the same text as cups.txt; its readings are used once"* ]]
		[ "$(json '[b["readings"] for b in d["brews"]]' <<<"$output")" = "[3, 3, 3, 3, 3, 3]" ]
	done
}

@test "a template that is none is refused, one that is of no use told of" {
	mkdir empty
	for none in nofolder empty brews.csv; do
		run "$BREWSPREAD" report brews.csv cups.txt -f md -t "$none" -o out.md
		[ "$status" -eq 2 ]
		[[ "$output" == *"$none: no template"* ]]
	done
	[ ! -e out.md ]
	echo '{{title}}' >own.md
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -t own.md -o out.xlsx
	[ "$status" -eq 0 ]
	[[ "$stderr" == "note: --template is not used"* ]]
	cp "$BATS_TEST_DIRNAME/../../templates/labels-de.csv" .
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -f md -l labels-de.csv -o out.md
	[ "$status" -eq 0 ]
	[ "$stderr" = "note: --labels is not used: it is for the workbook, xlsx, and nothing of that kind is written" ]
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -l labels-de.csv -o out.xlsx
	[ -z "$stderr" ]
}

@test "an unknown profile is told which there are, and the help where templates lie" {
	run "$BREWSPREAD" report brews.csv cups.txt -p nosuch
	[ "$status" -eq 3 ]
	[[ "$output" == *"nosuch: "*"; expected a file, or one of the built-in profiles: bare-number, labelled-line, delimited-line" ]]
	run "$BREWSPREAD" --help
	[[ "$output" == *"Templates and labels to copy lie in /"*"/brewspread." ]]
}

@test "what is published has the names of files, not the folders they lie in" {
	mkdir own
	"$BREWSPREAD" report "$PWD/brews.csv" "$PWD/cups.txt" --output="$PWD/own/out" -f md,html,xlsx --control coarse >/dev/null
	run ! grep -r "$PWD" own/out/write-up.md own/out/write-up.html
	grep -q 'report --output=out -f md,html,xlsx --control coarse brews.csv cups.txt' own/out/write-up.md
	grep -q '^| cups.txt |' own/out/write-up.md
	mkdir unpacked
	(cd unpacked && unzip -q ../own/out/comparison.xlsx)
	run ! grep -rq "$PWD" unpacked
	grep -rq 'report --output=out -f md' unpacked
	# a name with a stroke is no path
	sed 's/coarse/half\/half/' brews.csv >half.csv
	"$BREWSPREAD" report half.csv cups.txt -f md -o half.md --control half/half >/dev/null
	grep -q -- '--control half/half' half.md
}

@test "a row that is left out is named where its readings find no brew" {
	printf 'A7,coarse,20,320,280,filter,3:00,10,too,many\n' >>brews.csv
	printf 'A7 1.40 1.41\n' >>cups.txt
	run --separate-stderr "$BREWSPREAD" check brews.csv cups.txt
	[ "$status" -eq 1 ]
	[[ "$stderr" == *'cups.txt:8:1: brew "A7" has no usable row in brews.csv, see its fault; 2 readings kept, not joined'* ]]
	[[ "$stderr" != *nearest* ]]
}

@test "a strength that no solution has is out of range" {
	echo "standard 200: 1.70" >>cups.txt
	run --separate-stderr "$BREWSPREAD" check brews.csv cups.txt
	[[ "$stderr" == *'strength out of range; expected above 0 and up to 85 % of sucrose'* ]]
}

@test "one check, one way to write a minus sign, and a part is called most only if it is" {
	# swapped grinds: the intervals of the differences are below 0
	sed -e 's/coarse/x/;s/fine/coarse/;s/x/fine/' brews.csv >swapped.csv
	"$BREWSPREAD" report swapped.csv cups.txt --control coarse -f md,html -o out -s >told
	grep -q 'interval -' told
	run ! grep -E '[ (]-[0-9]' out/write-up.md
	grep -q '−' out/write-up.md
	part=$(sed -n 's/.*go; \(.*\) of that comes from: .* (\([0-9]*\) % of the variance)\./\1 \2/p' told)
	[ -n "$part" ]
	[ "${part##* }" -gt 50 ] && [ "${part% *}" = most ] || [ "${part% *}" = "the largest part" ]
}

@test "the margin that holds stands on the method's sheet" {
	"$BREWSPREAD" report brews.csv cups.txt -o out.xlsx >/dev/null
	unzip -p out.xlsx xl/sharedStrings.xml >strings.xml
	run ! grep -q 'not set</t></si><si><t[^>]*>Differences inside this margin' strings.xml
	mkdir x && (cd x && unzip -q ../out.xlsx)
	/usr/bin/python3 - <<-'END'
		import openpyxl
		sheet = openpyxl.load_workbook("out.xlsx")["Method"]
		row = [r for r in sheet.iter_rows(values_only=True) if r[0] == "margin"][0]
		assert row[1] == 0.5, row
	END
}

@test "an order is told in whole numbers, and one is no plural" {
	cat >order.csv <<-'END'
		brew,treatment,order,dose_g,water_g,beverage_g,sample_type
		A1,coarse,1,20,320,280,filter
		B1,fine,2,20,320,280,filter
		A2,coarse,3,20,320,280,filter
		B2,fine,4,20,320,280,filter
		A3,coarse,5,20,320,280,filter
		B3,fine,6,20,320,280,filter
	END
	printf 'zero 0.00\nA1 1.30 1.30\nB1 1.32 1.32\nA2 1.34 1.34\nB2 1.37 1.36\nA3 1.39 1.39\nB3 1.40 1.41\n' >order.txt
	run "$BREWSPREAD" check order.csv order.txt
	[[ "$output" == *"rises over the brewing order"*" from 1 to 6 ("* ]]
	printf 'brew,treatment,dose_g,water_g,beverage_g,sample_type\nA1,coarse,20,320,280,filter\n' >one.csv
	printf 'A1 1.40\n' >one.txt
	run "$BREWSPREAD" check one.csv one.txt
	[[ "$output" == *"1 brew of 1 treatment, 1 reading, 1 of them used"* ]]
}
