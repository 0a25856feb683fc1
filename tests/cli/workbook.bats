#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
#
# The workbook as a user gets it: what stands in it, and what happens when it
# cannot be written.

demo="$BATS_TEST_DIRNAME/../../fixtures/demo"

setup() {
	cd "$BATS_TEST_TMPDIR"
}

report() {
	run "$BREWSPREAD" report "$@" "$demo/manifest.csv" "$demo/readings.txt"
	echo "$output"
}

# part NAME: one part of report.xlsx
part() {
	unzip -p report.xlsx "$1"
}

@test "the tabs stand in reading order" {
	report -o report.xlsx
	[ "$(part xl/workbook.xml | grep -o '<sheet name="[A-Za-z]*"' | cut -d '"' -f 2 | tr '\n' ' ')" = \
		"Summary Brews Readings Meter Comparisons Fairness Method " ]
}

@test "every part is well-formed" {
	report -o report.xlsx
	mkdir parts
	unzip -q report.xlsx -d parts
	find parts -type f -exec xmllint --noout {} +
}

@test "no formula stands without its value, and none has a value that is no number" {
	report -o report.xlsx
	part 'xl/worksheets/*' | grep -o '<f>[^<]*</f><v>[^<]*</v>' >formulas
	[ "$(wc -l <formulas)" -gt 300 ]
	[ "$(part 'xl/worksheets/*' | grep -o '<f>' | wc -l)" -eq "$(wc -l <formulas)" ]
	run grep -vE '<v>-?[0-9.]+(E[-+]?[0-9]+)?</v>' formulas
	[ -z "$output" ]
}

@test "formulas use only functions that every spreadsheet program has had since 2007" {
	report -o report.xlsx --control plain
	run sh -c "unzip -p report.xlsx 'xl/worksheets/*' | grep -o '<f>[^<]*</f>' | grep -oE '[A-Z][A-Z0-9.]*\(' | sort -u | tr '\n' ' '"
	echo "$output"
	[ "$output" = "AVERAGEIFS( COUNTIFS( MAX( SQRT( SUM( SUMSQ( TINV( " ]
}

@test "a user's comma locale leaves the numbers alone" {
	LC_ALL=de_DE.UTF-8 "$BREWSPREAD" report -o comma.xlsx "$demo/manifest.csv" "$demo/readings.txt" || [ $? -eq 1 ]
	report -o report.xlsx
	run sh -c "unzip -p comma.xlsx 'xl/worksheets/*' | grep -oE '<v>[^<]*,[^<]*</v>'"
	[ -z "$output" ]
	[ "$(unzip -p comma.xlsx xl/worksheets/sheet2.xml | cksum)" = "$(part xl/worksheets/sheet2.xml | cksum)" ]
}

@test "sheets are packed at the level that costs least time for its size" {
	report -o report.xlsx
	python3 - <<-'END'
		import zipfile, zlib
		book = zipfile.ZipFile("report.xlsx")
		for i in range(1, 8):
		    part = book.getinfo(f"xl/worksheets/sheet{i}.xml")
		    packer = zlib.compressobj(3, zlib.DEFLATED, -15)
		    packed = packer.compress(book.read(part)) + packer.flush()
		    assert part.compress_size == len(packed), (i, part.compress_size, len(packed))
	END
}

@test "the same command gives the same bytes two seconds later" {
	report -o report.xlsx
	mv report.xlsx first.xlsx
	sleep 2
	report -o report.xlsx
	cmp first.xlsx report.xlsx
}

@test "a spreadsheet library reads it: yields, notes, chart, frozen rows" {
	report -o report.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("report.xlsx", data_only=True)
		brews = book["Brews"]
		heads = [cell.value for cell in brews[4]]
		rows = {row[heads.index("Brew")]: row for row in brews.iter_rows(min_row=6, values_only=True)}
		assert len(rows) == 20, len(rows)
		# 223.0 g of about 1.35 % from 15.0 g of coffee: 20.07 %
		assert abs(rows["P1"][heads.index("Yield, %")] - 20.07) < 0.02
		assert rows["P1"][heads.index("Tasting notes")] == "light, short"
		assert brews.freeze_panes == "C6", brews.freeze_panes
		assert len(book["Summary"]._charts) == 1
		assert book.properties.title.startswith("Comparison: "), book.properties.title
	END
}

@test "text of a manifest that looks like a formula stays text" {
	printf 'brew,treatment,dose_g,water_g,beverage_g,notes\n=1+1,@a,15,250,220,"=HYPERLINK(""http://x"")"\n+2,-b,15,250,221,+1\n' >m.csv
	printf '"=1+1" 1.31 1.32\n"+2" 1.33 1.34\n' >r.txt
	run "$BREWSPREAD" report -o report.xlsx m.csv r.txt
	echo "$output"
	run sh -c "unzip -p report.xlsx 'xl/worksheets/*' | grep -oE '<f>[^<]*</f>' | grep -E 'HYPERLINK|1\+1|@a'"
	[ -z "$output" ]
	part xl/sharedStrings.xml | grep -q '<t>=HYPERLINK("http://x")</t>\|<t>=HYPERLINK(&quot;http://x&quot;)</t>'
}

# A limit on the size of files stands for a full disk, for everybody who is not root.
@test "a full disk: the old report stays, one sentence says why, nothing is left behind" {
	[ -z "$SANITIZED" ] || skip "the sanitizers write files too"
	echo old >report.xlsx
	for kilobytes in 1 4 16 32; do
		run sh -c "trap '' XFSZ; ulimit -f $kilobytes; exec '$BREWSPREAD' report -o report.xlsx '$demo/manifest.csv' '$demo/readings.txt' 2>&1 >/dev/null"
		echo "$output"
		[ "$status" -eq 3 ]
		[ "$(cat report.xlsx)" = old ]
		[ "$(ls -A | wc -l)" -eq 1 ]
		[ "$(printf '%s\n' "$output" | grep -c 'report.xlsx: not written; ')" -eq 1 ]
		run sh -c "printf '%s\n' \"\$1\" | grep -E '\[(ERROR|WARNING)\]'" - "$output"
		[ -z "$output" ]
	done
}

@test "a full disk of its own, where it can be mounted" {
	mkdir full
	mount -t tmpfs -o size=24k none full 2>/dev/null || skip "needs the right to mount"
	echo old >full/report.xlsx
	run env TMPDIR="$BATS_TEST_TMPDIR" "$BREWSPREAD" report -o full/report.xlsx "$demo/manifest.csv" "$demo/readings.txt"
	kept=$(cat full/report.xlsx)
	left=$(ls -A full | wc -l)
	run_status=$status
	echo "$output"
	said=$(printf '%s\n' "$output" | grep -c 'full/report.xlsx: not written; the disk that holds .* is full')
	umount full
	[ "$run_status" -eq 3 ]
	[ "$kept" = old ]
	[ "$left" -eq 1 ]
	[ "$said" -eq 1 ]
}

@test "a full folder for scratch files does not give an empty report" {
	mkdir scratch
	mount -t tmpfs -o size=16k none scratch 2>/dev/null || skip "needs the right to mount"
	run env TMPDIR="$BATS_TEST_TMPDIR/scratch" "$BREWSPREAD" report -o report.xlsx "$demo/manifest.csv" "$demo/readings.txt"
	umount scratch
	echo "$output"
	[ "$status" -eq 3 ]
	[ ! -e report.xlsx ]
	[[ $output == *"report.xlsx: not written; "* ]]
}

@test "a folder that cannot be written is told by its reason" {
	report -o nowhere/report.xlsx
	[ "$status" -eq 3 ]
	[[ $output == *"nowhere/report.xlsx: not written: No such file or directory"* ]]
}
