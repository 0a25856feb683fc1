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
}
