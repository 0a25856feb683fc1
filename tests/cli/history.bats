#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# A run with one brew each, judged by the spread between brews that earlier runs in the ledger showed.

setup() {
	repo=$PWD
	mkdir -p "$BATS_TEST_TMPDIR/work/bench"
	cd "$BATS_TEST_TMPDIR/work"
	: >bench/bench.ini
	cat >once.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type
		X1,one,15,250,223,filter
		Y1,two,15,250,222,filter
	END
	printf 'zero 0.01\nX1 1.36 1.36 1.35\nY1 1.44 1.44 1.43\n' >once.txt
	"$BREWSPREAD" open single once.csv --bench bench
	"$BREWSPREAD" paste --bench bench once.txt
}

source_of_spread() {
	"$BREWSPREAD" report --bench bench single --json 2>told | python3 -c 'import json, sys
c = json.load(sys.stdin)["comparison"]
print(c["spread_from"], c["spread_df"], c["pairs"][0]["verdict"])'
}

@test "without an earlier run nothing is claimed" {
	run source_of_spread
	[ "$output" = "none None can't tell" ]
}

@test "an earlier run's spread gives a provisional verdict, and that is said" {
	"$BREWSPREAD" close --bench bench single
	"$BREWSPREAD" open waters "$repo/fixtures/demo/manifest.csv" --bench bench
	"$BREWSPREAD" paste --bench bench "$repo/fixtures/demo/readings.txt"
	run source_of_spread
	# 20 brews of 5 treatments in 4 rounds: 20 - 5 - 3 = 12 degrees of freedom
	[ "$output" = "history 12.0 differ" ]
	grep -q 'from 1 earlier run with 20 brews' told
	run "$BREWSPREAD" report --bench bench single --summary
	[[ "$output" == *provisional* ]]
	# a spread of yields says nothing of strengths
	run "$BREWSPREAD" report --bench bench single --response tds
	[[ "$output" != *"is taken from"* ]]
}

@test "a plan takes its spreads from the bench's earlier runs, and says from which" {
	run "$BREWSPREAD" plan --find 0.5 --treatments 3 --bench bench
	[ "$status" -eq 0 ]
	[[ "$output" == *"NOT MEASURED"*"no earlier run of that method, of 1 looked at, had a treatment with two brews"* ]]
	"$BREWSPREAD" close --bench bench single
	"$BREWSPREAD" open waters "$repo/fixtures/demo/manifest.csv" --bench bench
	"$BREWSPREAD" paste --bench bench "$repo/fixtures/demo/readings.txt"
	"$BREWSPREAD" report "$repo/fixtures/demo/manifest.csv" "$repo/fixtures/demo/readings.txt" --json 2>told >run.json || [ $? -eq 1 ]
	"$BREWSPREAD" plan --find 0.5 --treatments 3 --bench bench --json >without.json
	"$BREWSPREAD" plan --find 0.5 --treatments 3 --bench bench --dose 15 --water 250 --json >with.json
	python3 - <<-'END'
		import json
		run = json.load(open("run.json"))
		spread, s_r = run["comparison"]["spread"], run["repeatability"]["s_r"]
		def find(x, name):
		    if isinstance(x, dict):
		        for k, v in x.items():
		            if k == name: return v
		            r = find(v, name)
		            if r is not None: return r
		    if isinstance(x, list):
		        for v in x:
		            r = find(v, name)
		            if r is not None: return r
		a, b = json.load(open("without.json")), json.load(open("with.json"))
		assert abs(find(a, "brew_sd") - spread) < 1e-9 and find(a, "reading_sd") == 0, a
		assert "from 1 earlier run with 20 brews" in json.dumps(a) and "holds what readings add" in json.dumps(a)
		# 250 g on 15 g, 2.0 g of water kept by a gram: 220 g in the cup, 14.667 times the dose; three readings a cup
		# the single run's two cups of 1.36 1.36 1.35 and alike count too: 2/3 of 0.01² each, on 2 degrees of freedom each
		df = run["repeatability"]["df"]
		pooled = ((s_r ** 2 * df + 2 * 0.0001 * 2 / 3) / (df + 4)) ** 0.5
		assert abs(find(b, "reading_sd") - pooled * 220 / 15) < 1e-4, (b, pooled * 220 / 15)
		reading = find(b, "reading_sd")
		assert abs(find(b, "brew_sd") - (spread ** 2 - reading ** 2 / 3) ** 0.5) < 1e-9, b
	END
	run "$BREWSPREAD" plan one two three --find 0.5 --bench bench --dose 15 --water 250
	[ "$status" -eq 0 ]
	[[ "$output" == *"from 1 earlier run with 20 brews"* ]]
	run "$BREWSPREAD" plan --find 0.5 --treatments 3 --bench nowhere
	[ "$status" -eq 3 ]
}

@test "a run that was read once takes the meter's repeatability from earlier runs, and says so" {
	cat >read-once.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type
		P1,one,15,250,223,filter
		P2,one,15,250,224,filter
		Q1,two,15,250,222,filter
		Q2,two,15,250,221,filter
	END
	printf 'zero 0.01\nP1 1.36\nP2 1.37\nQ1 1.44\nQ2 1.43\n' >read-once.txt
	"$BREWSPREAD" close --bench bench single
	"$BREWSPREAD" open quick read-once.csv --bench bench
	"$BREWSPREAD" paste --bench bench read-once.txt
	run "$BREWSPREAD" report --bench bench quick --summary
	# the run with one brew each was read three times: 2 cups, squares 2 (0.01² 2/3) on 4 degrees of freedom: 0.0058
	[[ $output == *'No cup was read twice. In earlier runs in the ledger readings of one cup scattered on this meter with a standard deviation of 0.0058 % TDS (4 degrees of freedom)'* ]]
	"$BREWSPREAD" report --bench bench quick --json >quick.json
	python3 -c 'import json; r = json.load(open("quick.json"))["repeatability"]; assert abs(r["s_r"] - (2 * 0.0001 * 2 / 3 / 4) ** 0.5) < 1e-5, r'
}
