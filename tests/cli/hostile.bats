#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Texts that are meant for a spreadsheet's, a browser's, a terminal's or a file system's ears: they stay texts.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
	/usr/bin/python3 - <<-'END'
		import csv
		names = ['=HYPERLINK("http://x")', "<script>alert(1)</script>", "a\x1b[2Jb", "../../etc/passwd", "| **b** [x](y) `c`", "\u202egnp.exe",
		         "{{each brews}}", "%s%n%s", "'; drop table readings; --", "x" * 3000]
		with open("brews.csv", "w", newline="", encoding="utf-8") as f:
		    w = csv.writer(f)
		    w.writerow(["brew", "treatment", "dose_g", "water_g", "beverage_g", "sample_type", "=cmd|' /C calc'!A0", "notes"])
		    for i, name in enumerate(names):
		        for k in (1, 2):
		            w.writerow([f"{i}.{k}", name, 20, 320, 280, "filter", name, name])
		with open("cups.txt", "w") as f:
		    for i in range(len(names)):
		        for k in (1, 2):
		            f.write(f"{i}.{k}: 1.4{k} 1.4{i}\n")
	END
}

@test "in every format hostile names are texts" {
	"$BREWSPREAD" report brews.csv cups.txt -f xlsx,md,html,svg,json,csv -o out >/dev/null 2>told || [ $? -eq 1 ]
	/usr/bin/python3 - <<-'END'
		import csv, glob, json, re, openpyxl
		import xml.dom.minidom
		book = openpyxl.load_workbook("out/comparison.xlsx")
		for sheet in book:
		    for row in sheet.iter_rows():
		        for cell in row:
		            if cell.data_type == "f":
		                assert "HYPERLINK" not in str(cell.value) and "cmd" not in str(cell.value), cell.value
		html = open("out/write-up.html", encoding="utf-8").read()
		assert "<script>alert" not in html and "&lt;script&gt;alert" in html
		assert "\u202e" not in html and "\x1b" not in html
		assert not re.search(r'(src|href|action|data)\s*=\s*["\']?\s*(https?:|//)|url\(\s*["\']?https?:', html), "it asks for something from the network"
		for path in glob.glob("out/figures/*.svg"):
		    text = open(path, encoding="utf-8").read()
		    assert "<script" not in text and "\x1b" not in text
		    xml.dom.minidom.parseString(text.encode())
		text = open("out/write-up.md", encoding="utf-8").read()
		assert "<script>" not in text and "\x1b" not in text and "](y)" not in text.replace("\\](y)", "").replace("\\[x\\]", "")
		for path in glob.glob("out/*.csv"):
		    for row in csv.reader(open(path, newline="", encoding="utf-8")):
		        assert not any(v[:1] in ("=", "@", "\t", "\r") for v in row), row
		json.load(open("out/analysis.json", encoding="utf-8"))
	END
	! grep -q $'\e' told || false
}

@test "nothing hostile reaches the terminal" {
	for command in "report brews.csv cups.txt --summary -o x.xlsx" "check brews.csv cups.txt"; do
		"$BREWSPREAD" $command >said 2>&1 || [ $? -eq 1 ]
		! grep -q $'[\001-\010\013-\037\177]' said || false
		! grep -qP '\x{202e}' said || false
	done
}

@test "a run's name stays within the bench folder" {
	: >bench.ini
	for name in ../x /tmp/x a/b .hidden "" $'a\nb'; do
		run "$BREWSPREAD" open "$name" brews.csv --bench .
		[ "$status" -eq 2 ] || { echo "$name: $status $output"; return 1; }
	done
	[ ! -e ../x ]
	[ -z "$(ls runs 2>/dev/null)" ]
}

@test "nobody but its owner may write to a ledger" {
	umask 000
	: >bench.ini
	"$BREWSPREAD" open tray brews.csv --bench . >/dev/null
	echo 'A1 1.38' | "$BREWSPREAD" paste --bench . >/dev/null || [ $? -eq 1 ]
	[ $((0$(stat -c %a ledger.brewspread) & 022)) -eq 0 ]
}

@test "no shell and no network is in the program" {
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers"
	! nm -D "$BREWSPREAD" | grep -wE 'system|popen|gets|strcpy|sprintf' || false
}
