#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# audit as a user runs it: what it says of a meter over months, of an instrument study, of two meters; and what it makes
# of a ledger that is damaged, too new, or whose clock was set.

bats_require_minimum_version 1.5.0

setup() {
	fixtures=$PWD/fixtures
	mkdir "$BATS_TEST_TMPDIR/work"
	cd "$BATS_TEST_TMPDIR/work"
}

audit() {
	"$BREWSPREAD" audit "$@"
}

# json EXPRESSION: of the document d on standard input
json() {
	python3 -c 'import json, sys; d = json.load(sys.stdin); print(eval(sys.argv[1], {"d": d}))' "$1"
}

# bench_with FILE...: a bench folder whose ledger holds these texts
bench_with() {
	mkdir -p bench
	: >bench/bench.ini
	for text; do
		"$BREWSPREAD" paste --bench bench "$text" >/dev/null || [ $? -eq 1 ]
	done
}

# change_ledger SQL...: past the guards that keep a ledger from being altered, as a fault of disk or clock would
change_ledger() {
	python3 - "$@" <<-'END'
		import sqlite3, sys
		db = sqlite3.connect("bench/ledger.brewspread")
		kept = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND name LIKE '%_no_%'").fetchall()
		for name, _ in kept:
		    db.execute(f"DROP TRIGGER {name}")
		for sql in sys.argv[1:]:
		    db.execute(sql)
		for _, sql in kept:
		    db.execute(sql)
		db.commit()
		db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
	END
}

@test "nine months of a meter: the three planted faults are told with date, reading and what to try" {
	run --separate-stderr audit "$fixtures/audit/months.txt"
	[ "$status" -eq 1 ] # the newest check of the standard lies beyond its limits
	[ -z "$stderr" ]
	[[ $output == *'As of its newest checks beyond the limits: standard 2.00 %.'* ]]
	[[ $output == *'warning: 2026-05-02 09:00, reading 386, zero: +0.065 % TDS'*'beyond the limits. Try first: clean and dry the prism'* ]]
	[[ $output == *'warning: 2026-07-18 09:00, reading 661, repeatability: 0.022 % TDS'* ]]
	[[ $output == *'warning: 2026-08-22 09:06, reading 794, standard 2.00 %'*'make up a new one'* ]]
	# nothing was planted in the other two standards
	[[ $output == *'Nothing stands out in standard 1.00 %'* ]]
	[[ $output == *'Nothing stands out in standard 5.00 %'* ]]
}

@test "--since looks at the newest part alone" {
	run audit "$fixtures/audit/months.txt" --since 2026-06-01
	[[ $output == 'meter: '*', from 2026-06-06 to 2026-09-26'* ]]
	[[ $output != *'2026-05'* ]]
	run --separate-stderr audit "$fixtures/audit/months.txt" --since yesterday
	[ "$status" -eq 2 ]
	[[ $stderr == *'--since is "yesterday"; expected a day such as 2026-03-01'* ]]
}

@test "--since goes by when a reading was taken, not by when its text was pasted" {
	bench_with "$fixtures/audit/months.txt"
	run audit bench --since 2026-09-01
	[[ $output == 'meter: '*', from 2026-09-05 to 2026-09-26'* ]]
	# the same readings as from the text itself
	audit "$fixtures/audit/months.txt" --since 2026-09-01 --json >text.json || true
	audit bench --since 2026-09-01 --json >ledger.json || true
	[ "$(json 'd["meters"][0]["counts"]["readings"]' <ledger.json)" = "$(json 'd["meters"][0]["counts"]["readings"]' <text.json)" ]
	# a line without a time is as old as the line before it
	printf '2026-03-14 09:00 zero 0.00\nA1 1.40 1.41\n2026-09-05 09:00 zero 0.00\nA1 1.40 1.41\n' >two-days.txt
	[ "$(audit two-days.txt --since 2026-09-01 --json | json 'd["meters"][0]["counts"]["readings"]')" = 3 ]
}

@test "the numbers as JSON: pooled over cups as by hand" {
	cat >two-cups.txt <<-'END'
		2026-03-14 09:00 zero 0.00
		A1 1.40 1.42
		B1 1.50 1.50 1.53
	END
	audit two-cups.txt --json >out.json
	# squares within cups: 0.0002 + 0.0006 on 1 + 2 degrees of freedom: s = 0.016330 = √(0.0008 / 3)
	[ "$(json 'round(d["meters"][0]["s_r_percent_tds"], 6)' <out.json)" = 0.01633 ]
	[ "$(json 'd["meters"][0]["df"]' <out.json)" = 3.0 ]
	# χ²(3): 0.2157953 and 9.3484036 (tables): 0.00925 to 0.06089
	[ "$(json '[round(x, 5) for x in d["meters"][0]["interval"]]' <out.json)" = '[0.00925, 0.06089]' ]
	# 1.959964 √2 s, ISO 5725-6
	[ "$(json 'round(d["meters"][0]["limit_percent_tds"], 5)' <out.json)" = 0.04526 ]
}

@test "the scales say how well a standard is known" {
	# 200 g: 2 · 0.1/√6 · 100/200² · √(196² + 4²) = 0.040 %; a tenth of it with a step of 0.01 g
	run audit "$fixtures/audit/months.txt"
	[[ $output == *'Standard of 2.00 % sucrose'*'known to ± 0.040 % from its weighing'* ]]
	run audit "$fixtures/audit/months.txt" --scale-step 0.01
	[[ $output == *'Standard of 2.00 % sucrose'*'known to ± 0.0040 % from its weighing'* ]]
}

@test "a ledger and the text that it was filled from tell the same" {
	bench_with "$fixtures/audit/months.txt"
	audit bench --json >ledger.json || [ $? -eq 1 ]
	audit "$fixtures/audit/months.txt" --json >text.json || [ $? -eq 1 ]
	for what in s_r_percent_tds df step_percent_tds limit_percent_tds sessions_seen zero standards linearity months; do
		echo "$what"
		[ "$(json "d['meters'][0]['$what']" <ledger.json)" = "$(json "d['meters'][0]['$what']" <text.json)" ]
	done
}

@test "the current folder's ledger is taken where no file is named; none there is said" {
	run --separate-stderr audit
	[ "$status" -eq 3 ]
	[[ $stderr == *ledger.brewspread* ]]
	bench_with "$fixtures/audit/months.txt"
	cd bench
	run audit
	[ "$status" -eq 1 ]
	[[ ${lines[0]} == 'meter: 935 readings in 38 sessions, from 2026-01-10 to 2026-09-26' ]]
}

@test "a meter that is not there is refused with those that are" {
	bench_with "$fixtures/audit/months.txt"
	run --separate-stderr audit bench --meter other
	[ "$status" -eq 2 ]
	[[ $stderr == *'no meter is called "other"'*'there is "meter"'* ]]
}

@test "earlier runs in the ledger say where effort pays, and that they do" {
	bench_with
	"$BREWSPREAD" open waters "$fixtures/demo/manifest.csv" --bench bench
	"$BREWSPREAD" paste --bench bench "$fixtures/demo/readings.txt"
	run audit bench
	# 20 brews of 5 treatments in 4 rounds: 20 - 5 - 3 = 12
	[[ $output == *'(12 degrees of freedom), from 1 earlier run with 20 brews in bench/ledger.brewspread'* ]]
	[[ $output == *'brewing makes '*' %, this meter '*' %, weighing '* ]]
	run audit bench --history-sd 0.5
	[[ $output == *'Brews of one treatment differ with s = 0.50 points, as the settings have it.'* ]]
}

@test "an instrument study by its manifest" {
	run --separate-stderr audit --gauge "$fixtures/audit/study.csv" "$fixtures/audit/study.txt"
	[ "$status" -eq 0 ]
	[ -z "$stderr" ]
	[[ $output == *'20 loads of 5 samples, 40 readings in all.'* ]]
	[[ $output == *'Most of what the meter adds lies between loads: take fresh drops'* ]]
	# shares of what the meter adds are shares: together 100
	audit --gauge "$fixtures/audit/study.csv" "$fixtures/audit/study.txt" --json >study.json
	[ "$(json 'round(sum(c["share_of_meter_percent"] or 0 for c in d["study"]["components"]), 6)' <study.json)" = 100.0 ]
}

@test "samples, operators and days of which there is no reading leave the components as they are" {
	read -r -d '' readings <<-'END' || true
		L1 1.60 1.61
		L2 1.34 1.35
		L3 1.62 1.61
		L4 1.36 1.36
	END
	printf '%s\n' "$readings" >study.txt
	printf 'load,sample,operator,day\nL1,a,Ada,1\nL2,b,Ada,1\nL3,a,Ben,2\nL4,b,Ben,2\n' >read.csv
	{ head -n 1 read.csv; for i in 1 2 3 4 5 6; do echo "U$i,unread $i,Cy$i,9$i"; done; tail -n 4 read.csv; } >more.csv
	for study in read more; do
		audit --gauge $study.csv study.txt --json >$study.json || [ $? -eq 1 ]
		json '[(c["variance"], c["df"]) for c in d["study"]["components"]]' <$study.json >$study.components
	done
	grep -q '[1-9]' read.components
	cmp read.components more.components
}

@test "rows of another kind, twice, or half empty are no loads, and are told" {
	cat >study.csv <<-'END'
		load,sample,kind
		L1,one,gauge
		L2,one,brew
		L3,,gauge
		L1,two,gauge
		L4,two,gauge
	END
	printf 'L1 1.00 1.01\nL4 1.20 1.21\n' >study.txt
	run --separate-stderr audit --gauge study.csv study.txt
	[ "$status" -eq 1 ]
	[[ $stderr == *'study.csv:3'*'kind "brew" is not that of an instrument study'* ]]
	[[ $stderr == *'study.csv:4'*'the sample is missing'* ]]
	[[ $stderr == *'study.csv:5'*'load "L1" stands twice, first in line 2'* ]]
	[[ $output == *'2 loads of 2 samples, 4 readings in all.'* ]]
}

@test "the same cups on two meters: bias, limits of agreement, and whether one run may use both" {
	python3 - <<-'END' >both.txt
		for i in range(12):
		    base = 1.20 + 0.03 * i
		    print(f"2026-03-14 {9 + i // 6:02}:{i % 6 * 10:02} C{i:02} {base:.2f} {base + 0.01:.2f}")
	END
	# the second reads 0.10 higher throughout
	python3 -c 'import sys
for line in sys.stdin:
    head, a, b = line.rsplit(" ", 2)
    print(head, f"{float(a) + 0.1:.2f}", f"{float(b) + 0.1:.2f}")' <both.txt >second.txt
	bench_with both.txt second.txt
	# a pasted text is of one meter, whose name the settings give: tell the second half to be another's
	change_ledger "INSERT INTO meters SELECT 2, seen_us, 'other', port, profile, unit, compensated, scale_factor, cal_temp_c, step, accuracy FROM meters WHERE id = 1" \
		"UPDATE readings SET meter = 2 WHERE paste = 2"
	audit bench --json >out.json || [ $? -eq 1 ]
	[ "$(json 'len(d["pairs"])' <out.json)" = 1 ]
	[ "$(json 'd["pairs"][0]["cups"], round(abs(d["pairs"][0]["bias_percent_tds"]), 9)' <out.json)" = '(12, 0.1)' ]
	run audit bench
	[[ $output == *'meter less other over 12 cups: -0.100 % TDS'*'must not be mixed in one run'* ]]
	run audit bench -o two.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("two.xlsx")
		cups, *lines = book["Two meters"]._charts[0].series
		rows = lambda s: s.xVal.numRef.f.replace("$", " ").split("!")[1].split()
		# bias and limits go from end to end once: over the cups in the order of time they would run back and forth
		assert len(lines) == 3 and all(int(r[3]) - int(r[1].rstrip(":")) == 1 for r in map(rows, lines)), list(map(rows, lines))
		# printed, the second meter begins a page, below the empty row before its headline
		sheet = book["Repeatability"]
		breaks = [b.id for b in sheet.row_breaks.brk]
		assert len(breaks) == 1 and sheet.cell(breaks[0] + 1, 1).value == "other", breaks
	END
}

@test "a workbook with native charts, of the same bytes each time" {
	audit "$fixtures/audit/months.txt" -o months.xlsx || [ $? -eq 1 ]
	cp months.xlsx first.xlsx
	audit "$fixtures/audit/months.txt" -o months.xlsx || [ $? -eq 1 ]
	cmp first.xlsx months.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("months.xlsx")
		assert book.sheetnames == ["Audit", "Repeatability", "Zero", "Standards", "Method"], book.sheetnames
		charts = {name: len(book[name]._charts) for name in book.sheetnames}
		# one of s; values and ranges of the zero; the scale, and values and ranges of three standards
		assert charts == {"Audit": 0, "Repeatability": 1, "Zero": 2, "Standards": 7, "Method": 0}, charts
		text = " ".join(str(c.value) for s in book for r in s.iter_rows() for c in r if c.value is not None)
		assert "nan" not in text.lower().split() and "#" not in text, "holes"
	END
	audit --gauge "$fixtures/audit/study.csv" "$fixtures/audit/study.txt" -o study.xlsx
	/usr/bin/python3 - <<-'END'
		import openpyxl
		book = openpyxl.load_workbook("study.xlsx")
		assert book.sheetnames == ["Audit", "Study", "Method"], book.sheetnames
		assert len(book["Study"]._charts) == 1
	END
}

# -- what goes wrong with a ledger ----------------------------------------------------

@test "a file cut short is read as far as it goes, and that is said" {
	bench_with "$fixtures/audit/months.txt"
	change_ledger
	size=$(stat -c %s bench/ledger.brewspread)
	for share in 30 50 70 90; do
		head -c $((size * share / 100 / 4096 * 4096)) bench/ledger.brewspread >cut.brewspread
		rm -f cut.brewspread-*
		run --separate-stderr audit cut.brewspread
		echo "$share %: $status $stderr"
		[ "$status" -eq 1 ] || [ "$status" -eq 3 ]
		[[ $stderr == *cut.brewspread:* ]]
		[[ $stderr == *damaged* || $stderr == *malformed* || $stderr == *'not a ledger'* || $stderr == *'cut'* ]]
	done
}

@test "a page of a large ledger that can't be read: the readings before it are used" {
	for year in 2021 2022 2023 2024 2025; do
		sed "s/^2026/$year/" "$fixtures/audit/months.txt" >"$year.txt"
	done
	bench_with 202?.txt
	# above 32 MB a ledger is not read through as it is opened
	change_ledger "UPDATE readings SET raw = zeroblob(8000)"
	/usr/bin/python3 - <<-'END'
		import sqlite3
		path = "bench/ledger.brewspread"
		db = sqlite3.connect(path)
		root = db.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'readings'").fetchone()[0]
		size = db.execute("PRAGMA page_size").fetchone()[0]
		db.close()
		data = bytearray(open(path, "rb").read())
		page = data[(root - 1) * size:root * size]
		assert page[0] == 5  # an inner page of a table
		cells = int.from_bytes(page[3:5], "big")
		at = int.from_bytes(page[12 + 2 * (cells // 3):14 + 2 * (cells // 3)], "big")
		child = int.from_bytes(page[at:at + 4], "big")
		data[(child - 1) * size:child * size] = b"\xff" * size
		open(path, "wb").write(data)
	END
	run --separate-stderr audit bench
	echo "$status $stderr"
	[ "$status" -eq 1 ]
	[[ $stderr == *'readings before that are used'* ]]
	[[ $output == 'meter: '*' readings in '* ]]
}

@test "a ledger of a later version is left alone, and that is said" {
	bench_with "$fixtures/audit/months.txt"
	change_ledger "PRAGMA user_version = 9"
	sum=$(sha256sum <bench/ledger.brewspread)
	run --separate-stderr audit bench
	echo "$status $stderr"
	[ "$status" -eq 3 ]
	[ -z "$output" ]
	[[ $stderr == *'was made by a later version of this program (tables of version 9, '* ]]
	[ "$sum" = "$(sha256sum <bench/ledger.brewspread)" ]
}

@test "a clock that was set back is told; nothing is lost and nothing is counted twice" {
	bench_with "$fixtures/audit/months.txt"
	# as if from a port: a second apart on the clock that nobody sets; the other one goes back an hour at reading 500
	change_ledger "UPDATE readings SET paste = NULL, taken_us = NULL, monotonic_us = id * 1000000, received_us = 1770000000000000 + id * 1000000 - (id >= 500) * 3600000000" \
		"INSERT INTO turns VALUES (500)"
	run --separate-stderr audit bench
	echo "$output $stderr"
	[[ $stderr == *'the clock was set back by 3600 s before reading 500'* ]]
	[[ $output == 'meter: 935 readings in 2 sessions'* ]]
}

@test "rows out of order tell the same as in order" {
	/usr/bin/python3 - "$fixtures/audit/months.txt" >turned.txt <<-'END'
		import sys
		parts = open(sys.argv[1], encoding="utf-8").read().strip().split("\n\n")
		print("\n\n".join(parts[:1] + parts[:0:-1]))
	END
	bench_with turned.txt
	audit bench --json >turned.json || [ $? -eq 1 ]
	audit "$fixtures/audit/months.txt" --json >text.json || [ $? -eq 1 ]
	/usr/bin/python3 - <<-'END'
		import json
		a, b = (json.load(open(n))["meters"][0] for n in ("turned.json", "text.json"))
		def flat(x, at=""):
		    if isinstance(x, dict):
		        for k, v in x.items():
		            yield from flat(v, at + "." + k)
		    elif isinstance(x, list):
		        for i, v in enumerate(x):
		            yield from flat(v, f"{at}[{i}]")
		    else:
		        yield at, x
		for what in ("s_r_percent_tds", "df", "zero", "standards", "linearity", "months"):
		    one, other = dict(flat(a[what])), dict(flat(b[what]))
		    assert one.keys() == other.keys()
		    for at in one:
		        x, y = one[at], other[at]
		        same = x == y or abs(x - y) < 1e-9 * max(1, abs(x))
		        assert same, (what, at, x, y)
		values = [[[p["value"] for p in c["points"]] for c in m["charts"]] for m in (a, b)]
		assert all(abs(x - y) < 1e-12 for c, d in zip(*values) for x, y in zip(c, d))
	END
}

@test "years of a clock that was never set are told" {
	printf '1970-01-01 00:10 zero 0.00\nA1 1.40 1.41\n2026-03-14 09:00 B1 1.40 1.41\n' >early.txt
	run --separate-stderr audit early.txt
	[[ $stderr == *'dated before 2000'* ]]
	# but a time of day is not of 1970: it has the date of the lines beside it
	printf '00:10 zero 0.00\nA1 1.40 1.41\n2026-03-14 09:00 B1 1.40 1.41\n' >early.txt
	run --separate-stderr audit early.txt
	[[ $stderr != *'dated before 2000'* ]]
}

@test "a meter that the readings do not have is refused, of text as of a ledger" {
	printf '2026-03-14 09:00 zero 0.01\n2026-03-14 09:05 A1 1.40 1.41\n' >own.txt
	run audit own.txt --meter nope
	[ "$status" -eq 2 ]
	[[ "$output" == *'no meter is called "nope"; in these readings there is '* ]]
}

@test "--bench names the folder as elsewhere, and options of no use are not offered" {
	mkdir own
	: >own/bench.ini
	printf 'brew,treatment,dose_g,water_g,beverage_g,sample_type\nX1,one,15,250,223,filter\n' >one.csv
	printf '2026-03-14 09:00 zero 0.01\n2026-03-14 09:05 X1 1.40 1.41\n' >one.txt
	"$BREWSPREAD" open one one.csv --bench own
	"$BREWSPREAD" paste --bench own one.txt
	run audit --bench own
	[[ "$output" == *"1 check of its zero: +0.010 % TDS."* ]]
	[[ "$output" == *"; 1 degree of freedom, 1 cup)."* ]]
	run audit --bench own one.txt
	[ "$status" -eq 2 ]
	run audit --help
	[[ "$output" != *"--control "* && "$output" != *"--response "* && "$output" != *"--power "* ]]
	[[ "$output" == *"--confidence "* ]]
}
