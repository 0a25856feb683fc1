#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# plan as a user runs it: what it prints and writes, what it never writes over, how it ends.

bats_require_minimum_version 1.5.0

project="$BATS_TEST_DIRNAME/../.."

setup() {
	mkdir "$BATS_TEST_TMPDIR/bench"
	cd "$BATS_TEST_TMPDIR/bench"
}

plan() {
	"$BREWSPREAD" plan "$@"
}

json() { # one value of the JSON on standard input
	python3 -c 'import json,sys; d=json.load(sys.stdin); print(eval(sys.argv[1], {"d": d}))' "$1"
}

# refuses STATUS PATTERN WORD...: ends so, says so on standard error, prints nothing, leaves nothing
refuses() {
	local status_wanted=$1 pattern=$2
	shift 2
	run --separate-stderr "$BREWSPREAD" plan "$@"
	echo "$status: $output $stderr"
	[ "$status" -eq "$status_wanted" ]
	[ -z "$output" ]
	[[ $stderr == $pattern ]]
	[ -z "$(ls)" ]
}

@test "a plan is printed, and nothing is written without --output" {
	run --separate-stderr "$BREWSPREAD" plan soft hard mixed --brews 2 --at-once 3 --control soft
	[ "$status" -eq 0 ]
	[ -z "$stderr" ]
	[[ $output == *'2 rounds; each holds every treatment once'* ]]
	[ "$(grep -c 'soft (control)$' <<<"$output")" -eq 2 ]
	[ -z "$(ls)" ]
}

@test "--output makes the folder, the manifest and the bench sheet, and nothing else" {
	run --separate-stderr "$BREWSPREAD" plan soft hard --brews 3 --at-once 2 -o run1
	[ "$status" -eq 0 ]
	[ -z "$stderr" ]
	[ "${lines[0]}" = run1/manifest.csv ]
	[ "${lines[1]}" = run1/bench-sheet.xlsx ]
	[ "$(ls -A run1)" = "$(printf 'bench-sheet.xlsx\nmanifest.csv')" ]
	unzip -tq run1/bench-sheet.xlsx
}

@test "the same seed brings the same bytes, another seed another plan" {
	plan a b c --brews 4 --at-once 2 --seed 5 -o one
	plan a b c --brews 4 --at-once 2 --seed 5 -o two
	plan a b c --brews 4 --at-once 2 --seed 6 -o three
	cmp one/manifest.csv two/manifest.csv
	cmp one/bench-sheet.xlsx two/bench-sheet.xlsx
	! cmp -s <(tail -n +4 one/manifest.csv) <(tail -n +4 three/manifest.csv) || false
}

@test "check finds nothing wrong with a blank manifest but what is missing" {
	plan 'soft, still' 'hard "tap"' 'café' --brews 2 --at-once 3 --temp 93 --method immersion --with 'kettle,filter lot' -o run1
	run --separate-stderr "$BREWSPREAD" check run1/manifest.csv
	echo "$stderr"
	[ "$status" -eq 1 ]
	[ -z "$(grep -v 'dose is empty\|has no readings' <<<"$stderr")" ]
	[[ $output == *'6 brews of 3 treatments'* ]]
}

@test "a plan that was carried out is reported with its rounds, against its control, and called even" {
	plan soft hard mixed --brews 4 --at-once 2 --control soft --seed 3 -o run1
	# what was weighed and read: hard 0.10 % TDS stronger, mixed 0.05; every other round 0.02 weaker
	python3 - <<-'END'
		import csv
		lines = open("run1/manifest.csv", encoding="utf-8-sig").read().splitlines()
		head = next(i for i, line in enumerate(lines) if line.startswith("brew,"))
		rows = list(csv.DictReader(lines[head:]))
		with open("run1/manifest.csv", "w") as out, open("run1/readings.txt", "w") as cups:
		    print("\n".join(lines[: head + 1]), file=out)
		    writer = csv.DictWriter(out, rows[0].keys(), lineterminator="\n")
		    print("zero 0.00 @21", file=cups)
		    for i, row in enumerate(rows):
		        row.update(dose_g="15.0", water_g="250", beverage_g="220")
		        writer.writerow(row)
		        tds = 1.40 + {"soft": 0, "hard": 0.10, "mixed": 0.05}[row["treatment"]] - 0.02 * (int(row["block"]) % 2) + 0.005 * (i % 3)
		        print(row["brew"], *(f"{tds + 0.01 * r:.2f}" for r in (0, 1, 0)), "@21", file=cups)
	END
	"$BREWSPREAD" report run1/manifest.csv run1/readings.txt --control soft --json >run.json
	[ "$(json '[d["comparison"]["rounds"], d["comparison"]["control"], len(d["brews"])]' <run.json)" = "[True, 'soft', 12]" ]
	[ "$(json '{p["a"]: p["verdict"] for p in d["comparison"]["against_control"]}["hard"]' <run.json)" = differ ]
	# two of three treatments a round, four brews of each: six rounds, each of the three pairs in two of them
	[ "$(json 'sum("every two of them met in 2 rounds" in s["text"] for s in d["sentences"])' <run.json)" -eq 1 ]
}

@test "a manifest that was filled in is never written over" {
	plan a b --brews 2 -o run1
	echo 'B1,a,1,1,filter,15.0,250,220' >>run1/manifest.csv
	cp -r run1 before
	run --separate-stderr "$BREWSPREAD" plan a b --brews 2 -o run1
	[ "$status" -eq 1 ]
	[ -z "$output" ]
	[[ $stderr == *'run1/manifest.csv: there is a manifest already'*'nothing was written' ]]
	diff -r run1 before
}

@test "the same plan again is no harm" {
	plan a b --brews 2 -o run1
	cp -r run1 before
	run plan a b --brews 2 -o run1
	[ "$status" -eq 0 ]
	diff -r run1 before
}

@test "the bench sheet goes on A4 and on Letter, one page wide, and keeps codes from readers and tasters apart" {
	plan 'secret one' 'secret two' --brews 3 --at-once 2 --dose 15.0 -o a4
	plan 'secret one' 'secret two' --brews 3 --at-once 2 --dose 15.0 --paper letter -o letter
	/usr/bin/python3 - <<-'END'
		import openpyxl
		first = [str(r[0].value) for r in openpyxl.load_workbook("a4/bench-sheet.xlsx")["Key"].iter_rows()]
		code = [c for c in first if len(c) == 3 and c.isdigit()]
		assert len(code) == 6, code
		for name, size in (("a4", 9), ("letter", 1)):
		    book = openpyxl.load_workbook(name + "/bench-sheet.xlsx")
		    assert book.sheetnames == ["Brewing", "Reading", "Tasting", "Key"]
		    text = {s.title: " ".join(str(c.value) for r in s.iter_rows() for c in r if c.value) for s in book}
		    for s in book:
		        assert s.page_setup.paperSize == size, s.title
		        assert s.page_setup.fitToWidth in (None, 1) and s.page_setup.fitToHeight in (0, "0"), s.title
		        assert s.sheet_properties.pageSetUpPr.fitToPage
		        assert s.print_title_rows, s.title
		    for c in code:
		        assert c in text["Tasting"] and c in text["Key"] and c not in text["Brewing"] + text["Reading"], c
		    assert "secret" in text["Brewing"] and "secret" in text["Key"]
		    assert "secret" not in text["Reading"] + text["Tasting"]
		    assert "15.0" in text["Brewing"]
		    assert text["Reading"].count("zero") >= 4
		    for words in ("flames", "scald"):
		        assert words in text["Reading"] + text["Brewing"]
		    for words in ("allerg", "caffeine", "local food codes"):
		        assert words in text["Tasting"]
	END
}

@test "a plan as JSON holds the brews, the balance and what the spreads make of it" {
	plan a b c d e --brews 4 --at-once 2 --control c --brew-sd 0.3 --reading-sd 0.1 --json >plan.json
	[ "$(json 'len(d["plan"]["brews"])' <plan.json)" -eq 20 ]
	[ "$(json 'd["plan"]["balance"]["meetings_of_a_pair"]["lowest"]' <plan.json)" -eq 1 ]
	[ "$(json 'd["plan"]["balance"]["pairs_never_in_one_block"]' <plan.json)" -eq 0 ]
	[ "$(json 'd["plan"]["control"]' <plan.json)" = c ]
	[ "$(json 'd["effort"]["lines"][0]["asked"]["control"]["difference"] < d["effort"]["lines"][0]["asked"]["all_pairs"]["difference"]' <plan.json)" = True ]
}

@test "how many: R's example of its t test, 23 brews for one standard deviation at 90 %" {
	run plan --find 1 --brew-sd 1 --reading-sd 0 --power 0.9
	[ "$status" -eq 0 ]
	[[ $output == *'one pair, named beforehand        23 '* ]]
}

@test "how many, with more than two treatments: all three families, the report's own marked" {
	run plan --find 0.5 --treatments 4 --brew-sd 0.3 --reading-sd 0.15
	[ "$status" -eq 0 ]
	[[ $output == *'one pair'*'control'*'all pairs of treatments'*"< the report's"* ]]
	run plan a b c d --find 0.5 --brew-sd 0.3 --reading-sd 0.15 --control a
	[[ $output == *"each against the control"*"< the report's"*'all pairs'* ]]
}

@test "how many, without spreads: examples, called not measured" {
	run plan --find 0.5
	[ "$status" -eq 0 ]
	[[ $output == *'NOT MEASURED: neither'* ]]
	run plan --find 0.5 --reading-sd 0.15
	[[ $output == *'NOT MEASURED: the spread between brews is not known'* ]]
}

@test "--find makes the plan's brews, where the spreads are known" {
	run plan a b --find 0.5 --brew-sd 0.3 --reading-sd 0.15 --json
	[ "$status" -eq 0 ]
	[ "$(json 'd["plan"]["brews_of_each"] == d["effort"]["lines"][0]["asked"]["one_pair"]["brews_of_each"]' <<<"$output")" = True ]
}

@test "the spread of earlier runs is taken from the settings" {
	run plan --find 0.5 --history-sd 0.4 --history-df 8
	[ "$status" -eq 0 ]
	[[ $output == *'history-sd of the settings, which holds what readings add'*'one-sided 80 % limits'* ]]
}

@test "which difference so many brews find" {
	run plan --brews 4 --treatments 3 --brew-sd 0.3 --reading-sd 0.15
	[ "$status" -eq 0 ]
	[[ $output == *'Which difference do 4 brews of each of 3 treatments find, 3 readings of each?'* ]]
}

@test "a check standard: 2 % in 200 g is 4.0 g of sugar and 196.0 g of water" {
	run plan --standard 2.00 --mass 200
	[ "$status" -eq 0 ]
	[[ $output == *' 4.0 g'*' 196.0 g'*'2.000 %'*'± 0.040 %'*'1.3358'*'1.70 % TDS'* ]]
	[[ $output == *'common practice, no source'* ]]
	run plan --standard 2.00 --mass 200 --scale-step 0.01 --json
	[ "$(json 'round(d["standard"]["brix_expanded"], 4)' <<<"$output")" = 0.004 ]
}

@test "wrong use ends with 2 and says what was expected" {
	refuses 2 '*nothing is asked for*'
	refuses 2 '*at least two treatments; one is given*' soft --brews 3
	refuses 2 '*treatment "Soft" stands twice*' soft Soft --brews 3
	refuses 2 '*how many brews of each is missing*' soft hard
	refuses 2 '*known spreads only*' soft hard --find 0.5
	refuses 2 '*--brews is "2.5"; expected a whole number*' soft hard --brews 2.5
	refuses 2 '*--brews is "0"*' soft hard --brews 0
	refuses 2 '*--at-once is "some"*' soft hard --brews 2 --at-once some
	refuses 2 '*--dose is "15 g"; expected a number above 0*' soft hard --brews 2 --dose '15 g'
	refuses 2 '*--paper is "a5"; expected a4 or letter*' soft hard --brews 2 --paper a5
	refuses 2 '*--method is "drip"*' soft hard --brews 2 --method drip
	refuses 2 '*no sample type is called "tea"*' soft hard --brews 2 --type tea
	refuses 2 '*none of the treatments*' soft hard --brews 2 --control plain
	refuses 2 '*more than 500 brews*' soft hard --brews 251
	refuses 2 '*--output needs the treatments*' --find 0.5 -o run1
	refuses 2 '*--treatments is for where none are named*' soft hard --brews 2 --treatments 3
	refuses 2 '*a column "grind" anyway*' soft hard --brews 2 --with grind -o run1
	refuses 2 '*--grind holds a line end*' soft hard --brews 2 --grind $'fine\nx'
	refuses 2 '*more than 10000 brews*' soft hard --find 0.001 --brew-sd 1 --reading-sd 1
	refuses 2 '*don?t show; expected a larger mass*' --standard 0.1 --mass 20
}

@test "a folder that can't be made ends with 3" {
	refuses 3 '*no/such/place: the folder can*' soft hard --brews 2 -o no/such/place
}

@test "a file in the folder's place ends with 3 and stays" {
	echo mine >run1
	run --separate-stderr "$BREWSPREAD" plan soft hard --brews 2 -o run1
	[ "$status" -eq 3 ]
	[[ $stderr == *'run1/'* ]]
	[ "$(cat run1)" = mine ]
}

@test "numbers have points under a locale with commas" {
	LC_ALL=de_DE.UTF-8 plan a b --brews 2 --dose 15.0 -o german
	plan a b --brews 2 --dose 15.0 -o plain
	diff -r german plain
}

@test "the blank manifest among the templates has only known columns" {
	sed '$ s/$/\nA1,plain,1,1,percolation,filter,15.0,250,220,0,45,1.5,,,93,3:05,24,1,1,me,2026-03-01 10:15,,,good/' \
		"$project/templates/manifest.csv" >manifest.csv
	run --separate-stderr "$BREWSPREAD" check manifest.csv
	echo "$stderr"
	[ -z "$(grep -v 'has no readings' <<<"$stderr")" ]
	[[ $output == *'1 brew of 1 treatment'* ]]
}

@test "a plan answers in yield points or not at all, and refuses what no brew can be" {
	run plan --find 0.1 --brew-sd 0.3 --reading-sd 0.1 --response tds
	[ "$status" -eq 2 ]
	[[ "$output" == *'worked out in yield points only'*'the response is "tds"; expected --response yield'* ]]
	run plan soft hard --brews 3 --response tds
	[ "$status" -eq 0 ]
	run plan soft hard --brews 3 --temp 200
	[ "$status" -eq 2 ]
	[[ "$output" == *'--temp is "200"; expected °C of liquid water, above 0 and up to 100'* ]]
	run plan --find 0.5 --brew-sd .02
	[ "$status" -eq 2 ]
	[[ "$output" == *'--brew-sd is ".02"; expected a number from 0 on, such as 0.3, with a digit before the decimal point'* ]]
}

@test "what a standard has stands in one column" {
	run plan --standard 2.00 --standard-temp 25
	[ "$status" -eq 0 ]
	[[ "$output" == *"  refractive index at 20 °C      1.335866 ± 0.000058
  refractive index at 25 °C      1.335366 ± 0.000058
  on a meter's coffee scale      1.70 % TDS"* ]]
}
