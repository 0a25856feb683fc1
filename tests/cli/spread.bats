#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What scatter is made of, which brews lie apart, and what can't be told from the treatments: on invented runs, with the
# numbers worked out by hand.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
}

# run_make HEADER-REST ROW...: a manifest whose rows give brew, treatment and what else; 20 g, 320 g, 280 g each
manifest() {
	echo "brew,treatment,dose_g,water_g,beverage_g,sample_type$1" >brews.csv
	shift
	local row
	for row in "$@"; do
		IFS=, read -r label treatment rest <<<"$row"
		echo "$label,$treatment,20,320,280,filter${rest:+,$rest}" >>brews.csv
	done
}

analysis() {
	"$BREWSPREAD" report brews.csv cups.txt --json "${@:2}" 2>/dev/null |
		python3 -c 'import json,sys; a=json.load(sys.stdin); b={b["label"]: b for b in a["brews"]}; c=a["comparison"]; print(eval(sys.argv[1]))' "$1"
}

said() {
	"$BREWSPREAD" report brews.csv cups.txt --summary -o report.xlsx "${@}" 2>/dev/null
}

@test "variance components of a balanced run are those of the analysis of variance" {
	manifest "" A1,a A2,a B1,b B2,b
	printf 'A1 1.40 1.42\nA2 1.44 1.46\nB1 1.50 1.52\nB2 1.50 1.52\n' >cups.txt
	# Yields: TDS times 14. Readings: four cups of two, 0.02 apart: mean square 0.0002 · 196 = 0.0392. Brews: A's means
	# 1.41 and 1.45, B's equal: sum of squares 2 · (0.02² + 0.02²) = 0.0016 on 2 degrees of freedom; mean square 0.0008 · 196
	# = 0.1568. Between brews: (0.1568 - 0.0392) / 2 = 0.0588.
	[ "$(analysis 'c["components_by"], round(c["component_reading"], 9), round(c["component_brew"], 9)')" = \
		"('analysis of variance', 0.0392, 0.0588)" ]
	# chi-square, 4 degrees of freedom: 4 · 0.0392 / 11.14329 and / 0.48442 (tables)
	[ "$(analysis '[round(x, 4) for x in c["component_reading_interval"]]')" = "[0.0141, 0.3237]" ]
	said | grep -q 'Of the scatter of single readings (their variance), 60 % comes from brewing'
	unzip -p report.xlsx xl/sharedStrings.xml | grep -q 'What the scatter of single readings is made of (analysis of variance)'
}

@test "an unbalanced run is fitted by restricted likelihood, and brews alike are not told from 0" {
	manifest "" A1,a A2,a B1,b B2,b B3,b
	printf 'A1 1.40 1.42 1.41\nA2 1.40 1.42\nB1 1.50 1.52\nB2 1.50 1.52\nB3 1.52 1.50\n' >cups.txt
	[ "$(analysis 'c["components_by"], c["component_brew"]')" = "('restricted maximum likelihood', 0.0)" ]
	said | grep -q 'brewing itself adds nothing that can be told from 0 here'
	unzip -p report.xlsx xl/sharedStrings.xml | grep -q 'not distinguishable from 0'
}

@test "one brew each, or one reading each, has no components" {
	manifest "" A1,a B1,b
	printf 'A1 1.40 1.42\nB1 1.50 1.52\n' >cups.txt
	[ "$(analysis '"component_brew" in c')" = False ]
	manifest "" A1,a A2,a B1,b B2,b
	printf 'A1 1.40\nA2 1.41\nB1 1.50\nB2 1.52\n' >cups.txt
	[ "$(analysis '"component_brew" in c')" = False ]
}

@test "Mandel's h and k of each brew, with their limits" {
	manifest "" A1,a A2,a A3,a B1,b B2,b B3,b
	printf 'A1 1.40 1.42\nA2 1.41 1.43\nA3 1.45 1.47\nB1 1.50 1.52\nB2 1.50 1.52\nB3 1.50 1.56\n' >cups.txt
	# A's means 1.41 1.42 1.46: mean 1.43, s = sqrt((4 + 1 + 9) / 2) / 100 = 0.026458; h of A3 = 0.03 / 0.026458 = 1.1339.
	# k: ranges 2 2 2 2 2 6 (hundredths), so k of B3 = 6 sqrt(6) / sqrt(5 · 4 + 36) = 1.9640
	[ "$(analysis 'round(b["A3"]["mandel_h"], 4), round(b["B3"]["mandel_k"], 4)')" = "(1.1339, 1.964)" ]
	# 1 % limits by the closed forms (Wilrich 2011), as in tests/reference/data/crit_mandel_hk.csv: h of three brews 1.1546
	# (it can't exceed (3 - 1) / sqrt(3) = 1.1547), k of six cups of two readings 2.1421
	[ "$(analysis 'round(c["mandel_h_limit"], 2), round(a["repeatability"]["mandel_k_limit"], 2)')" = "(1.15, 2.14)" ]
}

@test "two brews that hide each other are found by the double test" {
	manifest "" A1,a A2,a A3,a A4,a A5,a A6,a A7,a A8,a B1,b B2,b
	printf 'A1 1.400 1.400\nA2 1.401 1.401\nA3 1.402 1.402\nA4 1.403 1.403\nA5 1.404 1.404\nA6 1.405 1.405\nA7 1.600 1.600\nA8 1.610 1.610\nB1 1.5 1.5\nB2 1.5 1.5\n' >cups.txt
	said | grep -q "Apart from the other brews of the same treatment (Grubbs' test): A7, A8"
}

@test "two circumstances that go with the treatments only together are named" {
	# neither the scale nor the server tells the treatments apart; scale and server alike or not do
	manifest ",scale,server" A1,a,s1,v1 A2,a,s2,v2 A3,a,s1,v1 A4,a,s2,v2 B1,b,s1,v2 B2,b,s2,v1 B3,b,s1,v2 B4,b,s2,v1
	for label in A1 A2 A3 A4 B1 B2 B3 B4; do echo "$label 1.40 1.41"; done >cups.txt
	# main effects of scale and server do not span the treatments: nothing is claimed
	! said | grep -q 'both together do' || false
	# three treatments, one on the first scale with either server, one on the second with one, …: their sum is spanned
	manifest ",scale,server" A1,a,s1,v1 A2,a,s1,v1 B1,b,s2,v1 B2,b,s1,v2 B3,b,s2,v1 B4,b,s1,v2
	for label in A1 A2 B1 B2 B3 B4; do echo "$label 1.40 1.41"; done >cups.txt
	said | grep -q 'Neither scale nor server alone goes with the treatments, but both together do: 1 comparison of treatments'
}

@test "the double test's numbers and limits stand in the JSON and the workbook" {
	manifest "" A1,a A2,a A3,a A4,a A5,a A6,a A7,a A8,a B1,b B2,b
	printf 'A1 1.00\nA2 1.00\nA3 1.10\nA4 1.10\nA5 1.20\nA6 1.20\nA7 2.20\nA8 2.30\nB1 1.5\nB2 1.5\n' >cups.txt
	# Tenths above 1: 0 0 1 1 2 2 12 13. Sum of squares about the mean 323 - 31 * 31 / 8 = 202.875, of the first six 10 - 36 / 6 = 4:
	# 4 / 202.875 = 0.0197. Table 5 of ISO 5725-2, p = 8: 0.1101 (5 %), 0.0563 (1 %); single 2.126 and 2.274.
	[ "$(analysis '[round(a["treatments"][0]["apart"][k], 4) for k in ("grubbs_double", "grubbs_double_5_percent", "grubbs_double_1_percent")]')" = \
		"[0.0197, 0.1101, 0.0563]" ]
	[ "$(analysis '[abs(a["treatments"][0]["apart"][k] - v) < 0.001 for k, v in (("grubbs_5_percent", 2.126), ("grubbs_1_percent", 2.274))]')" = "[True, True]" ]
	said >/dev/null
	/usr/bin/python3 - <<-'END'
		import openpyxl
		rows = [[c.value for c in r] for r in openpyxl.load_workbook("report.xlsx", data_only=True)["Comparisons"].iter_rows()]
		found = {r[1]: r for r in rows if r[0] == "a" and r[1] and "(" in r[1]}
		assert abs(found["two brews (Grubbs)"][2] - 4 / 202.875) < 1e-9 and "1 %" in found["two brews (Grubbs)"][7], found
		assert found["one brew (Grubbs)"][7] == "none lies apart", found
		assert found["largest h (Mandel)"][5] == 8, found
	END
}

@test "a limit of Mandel's that is crossed is told, with how often chance alone crosses it" {
	manifest "" A1,a A2,a A3,a A4,a B1,b B2,b B3,b B4,b
	printf 'A1 1.40 1.41\nA2 1.40 1.41\nA3 1.40 1.41\nA4 1.60 1.61\nB1 1.50 1.51\nB2 1.51 1.52\nB3 1.52 1.53\nB4 1.50 1.60\n' >cups.txt
	# h of A4: 0.2 * 3/4 over 0.2 / 2 = 1.5, the most that four brews can have; its limits are 1.42 and 1.49. k of B4: 10 sqrt(8) / sqrt(107)
	# = 2.734; limits of eight cups of two readings 1.88 and 2.26.
	said >summary
	grep -q "Far from the other brews of the same treatment (Mandel's h beyond its 5 % limit): A4; beyond the 1 % limit: A4. By chance alone that befalls about 0.4 of 8 brews." summary
	grep -q "Readings that scatter more than those of the other cups (Mandel's k beyond its 5 % limit): B4; beyond the 1 % limit: B4." summary
	manifest "" A1,a A2,a A3,a B1,b B2,b B3,b
	printf 'A1 1.40 1.41\nA2 1.41 1.42\nA3 1.42 1.43\nB1 1.50 1.51\nB2 1.51 1.52\nB3 1.52 1.53\n' >cups.txt
	! said | grep -q Mandel || false
}

@test "the smallest difference is that of the test that the report makes, not of a single pair" {
	manifest "" A1,a A2,a A3,a A4,a B1,b B2,b B3,b B4,b C1,c C2,c C3,c C4,c
	for b in A B C; do for i in 1 2 3 4; do echo "$b$i 1.4$i 1.4$i"; done; done >cups.txt
	spread=$(analysis 'c["spread"]')
	all=$(analysis 'c["smallest_difference_found"]')
	control=$(analysis 'c["smallest_difference_found"]' --control a)
	# R: q <- qtukey(.95, 3, 9) / sqrt(2); uniroot(function(d) pt(q, 9, d, lower.tail = FALSE) - .8, c(1, 9)) gives 3.71647; against
	# the control Dunnett's 2.61393 (tests/reference/data/crit_dunnett.csv) for q: 3.52508. One pair alone would be 3.14964.
	python3 -c 'import sys; s, a, c = map(float, sys.argv[1:]); print(a / s * 2 ** .5, c / s * 2 ** .5)' "$spread" "$all" "$control" >ratios
	cat ratios
	python3 -c 'a, c = map(float, open("ratios").read().split()); assert abs(a - 3.71647) < 1e-4 and abs(c - 3.52508) < 1e-4'
}
