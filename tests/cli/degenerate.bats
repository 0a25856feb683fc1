#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs that lack something: what can't be computed is said, with the reason, and the rest is computed.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
}

# manifest TREATMENT...: brews 1, 2, … of these treatments, and more columns where MORE and EACH say so
manifest() {
	local number=0 treatment
	echo "brew,treatment,dose_g,water_g,beverage_g,sample_type${MORE:-}" >brews.csv
	for treatment in "$@"; do
		number=$((number + 1))
		echo "$number,$treatment,20,320,280,filter${MORE:+,$(cut -d' ' -f$number <<<"${EACH:-}")}" >>brews.csv
	done
}

# cups VALUES...: each a cup, its readings between commas
cups() {
	local number=0 values
	: >cups.txt
	for values in "$@"; do
		number=$((number + 1))
		echo "$number: ${values//,/ }" >>cups.txt
	done
}

# report OPTIONS: the summary to "said", every number to "a.json", the workbook to report.xlsx; none may fail
report() {
	"$BREWSPREAD" report brews.csv cups.txt --summary -o report.xlsx "$@" >said 2>faults || [ $? -eq 1 ]
	"$BREWSPREAD" report brews.csv cups.txt --json "$@" >a.json 2>/dev/null || [ $? -eq 1 ]
	"$BREWSPREAD" report brews.csv cups.txt -f xlsx,md,html,svg,csv -o all "$@" >/dev/null 2>&1 || [ $? -eq 1 ]
	unzip -tqq report.xlsx
	! unzip -p report.xlsx 'xl/worksheets/*.xml' | grep -qiE '<v>-?(nan|inf)' || false
	! grep -qiE '\b(nan|inf)\b' said a.json all/write-up.md || false
}

number() {
	python3 -c 'import json,sys; a=json.load(open("a.json")); c=a["comparison"]; t=a["treatments"]; print(eval(sys.argv[1]))' "$1"
}

@test "all readings equal: no difference is invented, and the display's step stands for the spread" {
	manifest a a b b
	cups 1.40,1.40 1.40,1.40 1.40,1.40 1.40,1.40
	report
	grep -q "the step, more than the meter, sets what can be told" said
	! grep -q ' differ: ' said || false
	[ "$(number '[round(x["mean"], 9) for x in t]')" = "[19.6, 19.6]" ] # 1.40 · 280 / 20
}

@test "one treatment: its mean and spread, and that there is nothing to compare" {
	manifest a a a
	cups 1.40,1.41 1.42,1.41 1.40,1.40
	report
	grep -qiE 'one treatment|nothing to compare|only one' said
	[ "$(number 'len(t), c["pairs"]')" = "(1, [])" ]
	[ "$(number 'round(t[0]["mean"], 6)')" = 19.693333 ] # (1.405 + 1.415 + 1.40) / 3 · 14
}

@test "one brew each: no verdict, and what the meter alone could make" {
	manifest a b
	cups 1.40,1.41 1.50,1.51
	report
	grep -q 'brewed once' said
	! grep -q ' differ: ' said || false
	[ "$(number "[(p[\"verdict\"], p[\"p\"]) for p in c[\"pairs\"]]")" = "[(\"can't tell\", None)]" ]
}

@test "one reading a cup: the meter's scatter is not known, and yields are there" {
	manifest a a b b
	cups 1.40 1.41 1.50 1.51
	report
	grep -q "No cup was read twice" said
	[ "$(number '[round(x["mean"], 6) for x in t]')" = "[19.67, 21.07]" ]
}

@test "no spread in one treatment, much in the other: the spreads' difference is looked at, and no number is lost" {
	manifest a a a b b b
	cups 1.40,1.40 1.40,1.40 1.40,1.40 1.30,1.31 1.50,1.51 1.60,1.61
	report
	[ "$(number 'c["levene_p"] is not None and 0 <= c["levene_p"] <= 1')" = True ]
	[ "$(number 't[0]["sd"] is not None and t[1]["sd"] is not None')" = True ]
}

@test "a large offset costs no digits: differences are those of the same numbers without it" {
	MORE=,place EACH="1000000.10 1000000.30 1000000.50 1000000.90"
	manifest a a b b
	cups 1.40 1.40 1.40 1.40
	report --response place
	with=$(number '[round(p["difference"], 6) for p in c["pairs"]], round(c["spread"], 6)')
	EACH="0.10 0.30 0.50 0.90"
	manifest a a b b
	report --response place
	[ "$with" = "$(number '[round(p["difference"], 6) for p in c["pairs"]], round(c["spread"], 6)')" ]
	# means 0.2 and 0.7; variances 0.02 and 0.08, pooled 0.05
	[ "$with" = "([-0.5], 0.223607)" ] || [ "$with" = "([0.5], 0.223607)" ]
}

@test "two treatments weighed on a scale each: that is said, with its size in yield points" {
	MORE=,scale EACH="s1 s1 s2 s2"
	manifest a a b b
	cups 1.40,1.41 1.41,1.40 1.50,1.51 1.51,1.50
	report
	grep -q "No two treatments share a scale: whatever the scale does and whatever the treatment does can't be told apart" said
	# 1 g of 280 g at a yield of 20.37 %: 0.073 points
	grep -q "a tare wrong by 1 g at the beverage moves a yield by 0.073 points" said
}

@test "no reading at all, and no brew at all" {
	manifest a a b b
	: >cups.txt
	"$BREWSPREAD" report brews.csv cups.txt --summary -o report.xlsx >said 2>faults || [ $? -eq 1 ]
	[ -s report.xlsx ]
	head -n 1 brews.csv >none.csv
	run --separate-stderr "$BREWSPREAD" report none.csv cups.txt -o none.xlsx
	[ "$status" -eq 1 ]
	[ ! -e none.xlsx ]
}
