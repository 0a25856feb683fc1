#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# report in its formats: the same value with the same digits in each, one folder a run, the same bytes each time.

bats_require_minimum_version 1.5.0

ALL=xlsx,md,html,svg,png,pdf,json,csv

setup() {
	mkdir "$BATS_TEST_TMPDIR/bench"
	cd "$BATS_TEST_TMPDIR/bench"
	cat >brews.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type,width (mm),notes
		A1,coarse,20,320,280,filter,1.0,clean
		A2,coarse,20,320,280,filter,1.0,
		B1,fine,20,320,280,filter,0.6,heavy
		B2,fine,20,320,280,filter,0.6,
		C1,middling,20,320,280,filter,0.8,
		C2,middling,20,320,280,filter,0.8,
	END
	cat >cups.txt <<-'END'
		zero 0.00 0.00 @20
		A1 1.40 1.40 1.41
		A2 1.41 1.42 1.41
		B1 1.50 1.51 1.50
		B2 1.52 1.51 1.52
		C1 1.45 1.46 1.45
		C2 1.46 1.46 1.46
	END
}

# By hand: the mean of a cup's readings times 280/20 is its yield, the mean of two yields the treatment's.
#   coarse    (1.40 + 1.40 + 1.41 + 1.41 + 1.42 + 1.41)/6 · 14 = 19.71667
#   fine      (1.50 + 1.51 + 1.50 + 1.52 + 1.51 + 1.52)/6 · 14 = 21.14
#   middling  (1.45 + 1.46 + 1.45 + 1.46 + 1.46 + 1.46)/6 · 14 = 20.39333
# fine less coarse 1.42333; mean TDS of coarse 1.40833
@test "the same value has the same digits in every format" {
	"$BREWSPREAD" report brews.csv cups.txt --control coarse -f "$ALL" -o out >/dev/null
	python3 - <<-'END'
		import csv, json, re, xml.etree.ElementTree as tree

		want = {"coarse": ("19.72", 19.716666667), "fine": ("21.14", 21.14), "middling": ("20.39", 20.393333333)}
		data = json.load(open("out/analysis.json"))
		for treatment in data["treatments"]:
		    assert abs(treatment["mean"] - want[treatment["name"]][1]) < 1e-8, treatment

		table = {row["treatment"]: row for row in csv.DictReader(open("out/treatments.csv", newline=""))}
		markdown = open("out/write-up.md").read()
		page = open("out/write-up.html").read()
		figure = ["".join(e.itertext()) for e in tree.parse("out/figures/treatments.svg").iter("{http://www.w3.org/2000/svg}text")]
		for name, (digits, value) in want.items():
		    assert table[name]["yield (%)"] == digits, table[name]
		    half = table[name]["half interval"]
		    assert re.search(rf"^\| {name} \| 2 \| {digits} \| {half} \|", markdown, re.M), name
		    assert f'<th scope="row"><bdi>{name}</bdi></th><td class="n">2</td><td class="n">{digits}</td><td class="n">{half}</td>' in page, name
		    assert any(text.startswith(f"{digits} ± {half} %") for text in figure), figure
		assert table["coarse"]["TDS (%)"] == "1.41"

		pairs = [row for row in csv.DictReader(open("out/comparisons.csv", newline="")) if row["comparison"] == "with the control"]
		fine = next(row for row in pairs if row["first"] == "fine")
		assert fine["difference (points)"] == "1.42", fine
		assert f'| fine | coarse | +1.42 | +{fine["from"]} | +{fine["to"]} | {fine["p"].replace("<", "&lt;")} | {fine["verdict"]} |' in markdown
		assert f'<td class="n">+1.42</td><td class="n">+{fine["from"]}</td><td class="n">+{fine["to"]}</td>' in page
		differences = open("out/figures/differences.svg").read()
		assert f'>+1.42 ± {fine["half interval"]} · {fine["verdict"]}</text>' in differences
		exact = next(pair for pair in data["comparison"]["against_control"] if pair["a"] == "fine")
		assert abs(exact["difference"] - 1.423333333) < 1e-8
		assert f'{exact["lower"] if "lower" in exact else exact["interval"][0]:.2f}' == fine["from"]
		assert exact["verdict"] == fine["verdict"] == "differ"
	END
}

@test "the workbook's cells hold the same numbers" {
	"$BREWSPREAD" report brews.csv cups.txt --control coarse -f xlsx,csv -o out >/dev/null
	/usr/bin/python3 - <<-'END'
		import csv, openpyxl

		sheet = openpyxl.load_workbook("out/comparison.xlsx", data_only=True)["Summary"]
		cells = {row[1].value: row for row in sheet.iter_rows() if len(row) > 3}
		for row in csv.DictReader(open("out/treatments.csv", newline="")):
		    mean = next(cell for cell in cells[row["treatment"]][2:] if isinstance(cell.value, float))
		    decimals = len(mean.number_format.split(".")[1])
		    assert f"{mean.value:.{decimals}f}" == row["yield (%)"], (mean.value, mean.number_format, row)
	END
}

@test "several formats make one folder, and nothing beside it" {
	run "$BREWSPREAD" report brews.csv cups.txt -f "$ALL" -o out
	[ "$status" -eq 0 ]
	[ "$output" = out ]
	[ "$(ls)" = "$(printf 'brews.csv\ncups.txt\nout')" ]
	[ "$(ls out)" = "$(printf 'analysis.json\nbrews.csv\ncomparison.xlsx\ncomparisons.csv\nfigures\nreadings.csv\ntreatments.csv\nwrite-up.html\nwrite-up.md')" ]
	for figure in treatments differences strength readings budget covariate-1; do
		for ending in .svg -dark.svg .png -dark.png .pdf; do
			[ -s "out/figures/$figure$ending" ]
		done
	done
	xmllint --noout out/figures/*.svg
}

@test "the same input gives the same bytes" {
	"$BREWSPREAD" report brews.csv cups.txt -f "$ALL" -o out >/dev/null
	mv out first
	sleep 1.1
	"$BREWSPREAD" report brews.csv cups.txt -f "$ALL" -o out >/dev/null
	diff -r first out
}

@test "one format is one file, called after the manifest" {
	for format in md html json; do
		run "$BREWSPREAD" report brews.csv cups.txt -f "$format"
		[ "$status" -eq 0 ]
		[ "$output" = "brews.$format" ]
		[ -s "brews.$format" ]
	done
	"$BREWSPREAD" report brews.csv cups.txt --json >printed.json
	cmp printed.json brews.json
}

@test "without --output several files go into a folder called after the manifest" {
	run "$BREWSPREAD" report brews.csv cups.txt -f csv
	[ "$status" -eq 0 ]
	[ "$output" = brews ]
	[ "$(ls brews)" = "$(printf 'brews.csv\ncomparisons.csv\nreadings.csv\ntreatments.csv')" ]
}

@test "figures that are no more are removed, and nobody else's files" {
	"$BREWSPREAD" report brews.csv cups.txt -f svg,png -o out >/dev/null
	[ -e out/figures/covariate-1.svg ]
	echo mine >out/figures/mine.svg
	cut -d, -f1-6 brews.csv >without.csv
	"$BREWSPREAD" report without.csv cups.txt -f svg -o out >/dev/null
	[ ! -e out/figures/covariate-1.svg ]
	[ -e out/figures/covariate-1.png ] # png was not asked for
	[ -e out/figures/treatments.svg ]
	[ "$(cat out/figures/mine.svg)" = mine ]
}

@test "a format that is none is wrong use, and nothing is written" {
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -f md,docx -o out
	[ "$status" -eq 2 ]
	[[ $stderr == *'there is no format "docx"; expected some of xlsx, md, html, svg, png, pdf, json, csv'* ]]
	run "$BREWSPREAD" report brews.csv cups.txt -f '' -o out
	[ "$status" -eq 2 ]
	[ ! -e out ]
}

@test "a file in the folder's place is left alone" {
	echo mine >out
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -f md,svg -o out
	[ "$status" -eq 3 ]
	[[ $stderr == *'out: not made; a file is in its place'* ]]
	[ "$(cat out)" = mine ]
}

@test "the page and the figures fetch nothing" {
	"$BREWSPREAD" report brews.csv cups.txt -f html,svg -o out >/dev/null
	run grep -rnoE '(src|href|url|@import|xlink)[ =(]*["(][^"]*' out
	echo "$output"
	[ "$status" -eq 1 ]
	! grep -rohE 'https?://[^"]*' out | grep -vx 'http://www.w3.org/2000/svg' || false
}

@test "a template of one's own takes the place of the built-in one" {
	echo '{{remark mine}}<p>{{title}}: {{each treatments}}{{name}} {{mean}}; {{end}}</p>' >mine.html
	"$BREWSPREAD" report brews.csv cups.txt -f html,md -t mine.html -o out >/dev/null
	[ "$(cat out/write-up.html)" = '<p>brews: fine 21.14; middling 20.39; coarse 19.72; </p>' ]
	grep -q '^# brews' out/write-up.md # the built-in one
	mkdir templates
	echo '{{title}}' >templates/write-up.md
	"$BREWSPREAD" report brews.csv cups.txt -f html,md -t templates -o out >/dev/null
	[ "$(cat out/write-up.md)" = brews ]
	grep -q '<!DOCTYPE html>' out/write-up.html
}

@test "a fault in a template is told by its place, and the old file stays" {
	echo old >page.html
	printf '<p>\n  {{nothing}}\n' >mine.html
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt -f html -t mine.html -o page.html
	[ "$status" -eq 2 ]
	[[ $stderr == *'mine.html:2:3: nothing is no placeholder; expected one of '* ]]
	[ "$(cat page.html)" = old ]
}

@test "--open starts the opener on the page, by its whole path" {
	mkdir bin
	printf '#!/bin/sh\nprintf "%%s\\n" "$#" "$1" >"$OPENED.part"\nmv "$OPENED.part" "$OPENED"\n' >bin/xdg-open
	chmod +x bin/xdg-open
	OPENED=$PWD/opened PATH=$PWD/bin:$PATH "$BREWSPREAD" report brews.csv cups.txt -f html,csv --open -o '-out; $(touch x)' >/dev/null
	for _ in $(seq 100); do
		[ ! -e opened ] || break
		sleep 0.05
	done
	[ "$(cat opened)" = "$(printf '1\n%s' "$PWD/-out; \$(touch x)/write-up.html")" ]
	[ ! -e x ]
}

@test "without an opener the report is there and the failure told" {
	mkdir empty
	run --separate-stderr env PATH="$PWD/empty" "$BREWSPREAD" report brews.csv cups.txt -f html --open -o page.html
	[ "$status" -eq 3 ]
	[[ $stderr == *'page.html: not opened, since xdg-open can'* ]]
	[ -s page.html ]
}

@test "hostile names are text in every format" {
	sed -i '2,3s/coarse/"<script>alert(1)<\/script> | `x` ](y)"/' brews.csv
	"$BREWSPREAD" report brews.csv cups.txt -f "$ALL" -o out >/dev/null
	! grep -rl '<script' out --include='*.html' --include='*.svg' --include='*.md' || false
	grep -q '&lt;script&gt;alert(1)&lt;/script&gt; \\| \\`x\\` \\](y)' out/write-up.md
	xmllint --noout out/figures/*.svg
}

@test "a text that a spreadsheet would take for a formula is none in CSV" {
	sed -i '2s/clean/=1+1/' brews.csv
	"$BREWSPREAD" report brews.csv cups.txt -f csv -o out >/dev/null
	grep -q "'=1+1" out/brews.csv
	! grep -q ',=1+1' out/brews.csv || false
}

@test "a decimal comma in the locale changes nothing" {
	LC_ALL=C "$BREWSPREAD" report brews.csv cups.txt -f "$ALL" -o out >/dev/null
	mv out point
	LC_ALL=de_DE.UTF-8 "$BREWSPREAD" report brews.csv cups.txt -f "$ALL" -o out >/dev/null
	diff -r point out
}

@test "without a font there are no figures, and that is said at once" {
	printf '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig></fontconfig>' >no-fonts.conf
	FONTCONFIG_FILE=$PWD/no-fonts.conf run --separate-stderr timeout 20 "$BREWSPREAD" report \
		brews.csv cups.txt -f png,svg -o out
	[ "$status" -eq 3 ]
	[[ "$stderr" == *'no figures without letters: no font can be used; expected one that is installed'* ]]
	[ -z "$(find out -type f 2>/dev/null)" ]
}
