#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# report --labels: a workbook in another language, whole, with formulas that still find what they look for.

bats_require_minimum_version 1.5.0

HERE=$BATS_TEST_DIRNAME
TEMPLATES=$BATS_TEST_DIRNAME/../../templates

setup() {
	cd "$BATS_TEST_TMPDIR"
	cat >brews.csv <<-'END'
		brew,treatment,block,order,dose_g,water_g,beverage_g,bypass_g,moisture_percent,sample_g,diluent_g,bloom_g,width_mm,notes
		A1,alpha,r1,1,18.0,300,262,20,3,2.0,4.0,40,2.0,odd
		A2,alpha,r2,2,18.0,300,262,20,3,2.0,4.0,40,2.1,
		B1,beta,r1,3,18.0,300,,20,3,2.0,4.0,40,3.0,
		B2,beta,r2,4,18.0,300,500,20,3,2.0,4.0,40,3.1,
		C1,gamma,r1,5,18.0,300,262,20,3,2.0,4.0,40,4.2,
		C2,gamma,r2,6,18.0,300,262,20,3,2.0,4.0,40,4.3,
	END
	cat >cups.txt <<-'END'
		zero 0.01 @21
		A1 0.45 0.46 0.44 @22
		A2 0.47 0.47 0.46 @22
		B1 0.50 0.52 0.51
		B2 0.52 0.61 0.53 @31
		C1 0.41 0.40 0.41 @22
		C2 0.39 0.40 90 @22
		ZZ 1.3
	END
	sed -n '1p; /^.1,/p' brews.csv >single.csv
	# a language in which every label is itself between marks
	/usr/bin/python3 - "$TEMPLATES/labels.csv" >marked.csv <<-'END'
		import csv, sys
		out = csv.writer(sys.stdout, lineterminator="\n")
		out.writerow(["English", "Marked"])
		for row in list(csv.reader(open(sys.argv[1], encoding="utf-8")))[1:]:
		    out.writerow([row[0], "«" + row[0] + "»"])
	END
}

report() {
	run --separate-stderr "$BREWSPREAD" report "$@"
	[ "$status" -le 1 ]
}

# Every cell is translated unless it is a sentence of the analysis, the name of a setting, or comes from the input.
none_left_in_english() {
	report "$@" -o english.xlsx
	echo "$stderr" >faults.txt
	report "$@" --labels marked.csv -o marked.xlsx
	report "$@" --json
	echo "$output" >analysis.json
	{ "$BREWSPREAD" report --help; "$BREWSPREAD" plan --help; } >help.txt
	/usr/bin/python3 "$HERE/untranslated.py" english.xlsx marked.xlsx "$1" "$2" faults.txt analysis.json help.txt
}

@test "every label of a run with a control and rounds can be translated" {
	none_left_in_english brews.csv cups.txt --control alpha --margin 0.3
}

@test "every label of a run with one brew each can be translated" {
	none_left_in_english single.csv cups.txt
}

@test "every label of a run that leans on earlier ones can be translated" {
	none_left_in_english single.csv cups.txt --history-sd 0.3 --history-df 12 --control alpha
}

@test "every label of a run on a coarse display, with scales of stated accuracy, can be translated" {
	mkdir coarse
	cd coarse
	cp ../marked.csv .
	cat >brews.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,scale
		A1,alpha,18,300,264.0,s1
		A2,alpha,18,300,263.9,s1
		B1,beta,18,300,264.1,s2
		B2,beta,18,300,264.0,s2
	END
	printf '%s 1.4 1.4 1.4\n' A1 A2 >cups.txt
	printf '%s 1.5 1.5 1.5\n' B1 B2 >>cups.txt
	echo 'ZZ 1.3' >>cups.txt
	none_left_in_english brews.csv cups.txt --scale-accuracy 0.5
	report brews.csv cups.txt --scale-accuracy 0.5 --summary
	[[ $output == *"display's step"* ]]
	[[ $output == *'weighed on different scales'* ]]
}

@test "every label of a run that compares another response can be translated" {
	none_left_in_english brews.csv cups.txt --response retention
}

@test "the labels that come with the program are filled in for the same labels as the blank ones" {
	/usr/bin/python3 - "$TEMPLATES" <<-'END'
		import csv, re, sys
		blank = list(csv.reader(open(sys.argv[1] + "/labels.csv", encoding="utf-8")))[1:]
		german = list(csv.reader(open(sys.argv[1] + "/labels-de.csv", encoding="utf-8")))[1:]
		assert [r[0] for r in blank] == [r[0] for r in german]
		assert all(r[1] == "" for r in blank)
		# names of journals and standards stay
		left = [r[0] for r in german if not r[1] and not re.search(r"\(\d{4}\)|^IAPWS|^ICUMSA|^TDS$|50 \(1955\)", r[0])]
		assert not left, left
	END
}

@test "the German workbook has German tabs, heads and verdicts, and its formulas name them" {
	report brews.csv cups.txt --control alpha --labels "$TEMPLATES/labels-de.csv" -o de.xlsx
	[ -z "$(grep -i label <<<"$stderr")" ]
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("de.xlsx")
		assert book.sheetnames == ["Übersicht", "Brühungen", "Messungen", "Messgerät", "Vergleiche", "Fairness", "Methode"], book.sheetnames
		words = {c.value for row in book["Übersicht"].iter_rows() for c in row if isinstance(c.value, str)}
		assert {"Variante", "Urteil", "Vergleich: brews", "Kontrolle", "Vor der Veröffentlichung"} <= words
		formulas = [c.value for sheet in book for row in sheet.iter_rows() for c in row
		            if isinstance(c.value, str) and c.value.startswith("=")]
		assert any('"ja"' in f for f in formulas) and not any('"yes"' in f for f in formulas)
		assert not any("'Brews'" in f or "'Summary'" in f for f in formulas)
		used = {c.value for c in book["Messungen"]["C"]}
		assert "ja" in used and "nein" in used and "yes" not in used
	END
}

@test "names of columns can be used in formulas, whatever the language" {
	report brews.csv cups.txt --labels "$TEMPLATES/labels-de.csv" -o de.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("de.xlsx")
		values = openpyxl.load_workbook("de.xlsx", data_only=True)
		def cells(name):
		    sheet, area = next(book.defined_names[name].destinations)
		    return [c.value for row in values[sheet][area.replace("$", "")] for c in row]
		assert cells("brew_label") == ["A1", "A2", "B1", "B2", "C1", "C2"] or sorted(cells("brew_label")) == ["A1", "A2", "B1", "B2", "C1", "C2"]
		assert set(cells("treatment_name")) == {"alpha", "beta", "gamma"}
		assert len(cells("brew_yield")) == 6 and cells("brew_dose") == [18.0] * 6
		# Method lists them, no other and none twice
		listed = [n for row in book["Methode"].iter_rows(values_only=True) for v in row if isinstance(v, str)
		          and "_" in v and all(n.replace("_", "").isalpha() for n in v.split(", ")) for n in v.split(", ")]
		names = book.defined_names
		defined = [d.name for d in names.definedName] if hasattr(names, "definedName") else list(names)
		defined = [n for n in defined if not n.startswith("_xlnm")]
		# this run has no control, so no column of differences
		assert sorted(defined + ["treatment_difference"]) == sorted(listed), (defined, listed)
	END
}

@test "a label that would break a formula or a tab leaves tabs in English, and the workbook whole" {
	printf 'English;Odd\nSummary;a/b[1]\nyes;"j""a"\nBrews;Meter\nTreatment;=1+1\n' >odd.csv
	report brews.csv cups.txt --labels odd.csv -o odd.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("odd.xlsx")
		assert book.sheetnames == ["Summary", "Brews", "Readings", "Meter", "Comparisons", "Fairness", "Method"]
		assert "=1+1" in {c.value for row in book["Summary"].iter_rows() for c in row if c.data_type == "s"}
		assert "yes" in {c.value for c in book["Readings"]["C"]}
	END
}

@test "a tab may have blanks and accents, as many as fit, and no name that a spreadsheet program keeps for itself" {
	printf 'English;Own\nBrews;Café à côté de l’été été\nMeter;history\nMethod;Ces mots sont bien trop longs pour un onglet\n' >tabs.csv
	report brews.csv cups.txt --labels tabs.csv -o tabs.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("tabs.xlsx")
		brews = "Café à côté de l’été été"
		assert book.sheetnames == ["Summary", brews, "Readings", "Meter", "Comparisons", "Fairness", "Method"], book.sheetnames
		formulas = [c.value for row in book["Summary"].iter_rows() for c in row if c.data_type == "f"]
		assert any(f"'{brews}'!" in f for f in formulas) and not any("Brews" in f for f in formulas)
		chart = book["Summary"]._charts[0]
		assert any(f"'{brews}'!" in s.yVal.numRef.f for s in chart.series)
	END
}

@test "labels with other gaps than the English ones are told with their place and left" {
	printf 'English,Own\nComparison: {name},Vergleich\nTreatment,Variante\n' >gap.csv
	report brews.csv cups.txt --labels gap.csv -o gap.xlsx
	[[ "$stderr" == *'gap.csv:2:20: warning: {name} stands in only one of both; expected the same gaps; "Comparison: {name}" stays in English'* ]]
	/usr/bin/python3 -c 'import openpyxl; s = openpyxl.load_workbook("gap.xlsx")["Summary"]; assert s["A1"].value == "Comparison: brews"; assert "Variante" in {c.value for r in s.iter_rows() for c in r}'
}

@test "a file that is no table of labels is refused, and nothing is written" {
	printf 'just words\n' >words.csv
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt --labels words.csv -o out.xlsx
	[ "$status" -eq 1 ]
	[[ "$stderr" == *"words.csv:1:1: the first row has no second column"* ]]
	[ ! -e out.xlsx ]
	printf 'English,Own\n"Treatment,Variante\n' >open.csv
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt --labels open.csv -o out.xlsx
	[ "$status" -eq 1 ]
	[[ "$stderr" == *"open.csv:2:1: the quote that opens here is not closed"* ]]
	run --separate-stderr "$BREWSPREAD" report brews.csv cups.txt --labels missing.csv -o out.xlsx
	[ "$status" -eq 3 ]
	[ ! -e out.xlsx ]
}
