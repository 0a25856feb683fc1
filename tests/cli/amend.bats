#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# amend: excludes, restores and moves readings, with who and why; the reading itself stays as it came.

bats_require_minimum_version 1.5.0

setup() {
	cd "$BATS_TEST_TMPDIR"
	: >bench.ini
	cat >manifest.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type
		A1,coarse,20,320,280,filter
		A2,coarse,20,320,280,filter
		B1,fine,20,320,280,filter
		B2,fine,20,320,280,filter
	END
	"$BREWSPREAD" open tray manifest.csv >/dev/null
	printf 'A1 1.40 1.40 1.80\nA2 1.40 1.40 1.41\nB1 1.50 1.50 1.50\nB2 1.50 1.51 1.50\n' | "$BREWSPREAD" paste >/dev/null
}

brew() {
	"$BREWSPREAD" report --bench . tray --json 2>/dev/null |
		python3 -c 'import json,sys; b={b["label"]: b for b in json.load(sys.stdin)["brews"]}; print(eval(sys.argv[1], {"b": b}))' "$1"
}

ledger() {
	"$BREWSPREAD" export --format jsonl |
		python3 -c 'import json,sys; d={r["id"]: r for r in map(json.loads, sys.stdin)}; print(eval(sys.argv[1], {"d": d}))' "$1"
}

@test "an excluded reading leaves the mean, stays in the ledger, and the report says why" {
	[ "$(brew 'round(b["A1"]["tds_percent"], 6)')" = 1.533333 ] # (1.40 + 1.40 + 1.80) / 3
	"$BREWSPREAD" amend 3 --exclude --reason 'bubble on the prism' --author ann
	[ "$(brew 'b["A1"]["tds_percent"], b["A1"]["readings"], b["A1"]["readings_used"]')" = "(1.4, 3, 2)" ]
	[ "$(ledger 'd[3]["shown"], d[3]["flags"], d[3]["note"]')" = "('1.80', ['excluded'], 'bubble on the prism')" ]
	"$BREWSPREAD" report --bench . tray -o report.xlsx >/dev/null 2>&1 || [ $? -eq 1 ]
	unzip -p report.xlsx xl/sharedStrings.xml | grep -q 'bubble on the prism'
	"$BREWSPREAD" amend 3 --restore --reason 'it was no bubble'
	[ "$(brew 'round(b["A1"]["tds_percent"], 6)')" = 1.533333 ]
	[ "$(ledger 'd[3]["flags"]')" = "[]" ]
}

@test "who and why are in the ledger, amendment after amendment" {
	"$BREWSPREAD" amend 3 --exclude --reason 'bubble' --author ann
	"$BREWSPREAD" amend 3 --restore --reason 'no bubble' --author bo
	python3 - <<-'END'
		import sqlite3
		c = sqlite3.connect("ledger.brewspread")
		names = [r[0] for r in c.execute("select name from sqlite_master where type='table'")]
		table = next(n for n in names if "amend" in n)
		rows = [" ".join(map(str, r)) for r in c.execute(f"select * from {table} order by rowid")]
		assert len(rows) == 2, rows
		assert "ann" in rows[0] and "bubble" in rows[0] and "bo" in rows[1] and "no bubble" in rows[1], rows
		try:
		    c.execute(f"update {table} set rowid = rowid"); c.execute(f"delete from {table}")
		    assert False, "it may be changed"
		except sqlite3.DatabaseError as e:
		    assert "only added to" in str(e) or "never" in str(e) or "not" in str(e), e
	END
}

@test "a reading moves to another cup, or becomes a zero check" {
	"$BREWSPREAD" amend 3 --move B1 --reason 'wrong cup'
	[ "$(brew 'b["A1"]["readings"], b["B1"]["readings"]')" = "(2, 4)" ]
	"$BREWSPREAD" amend 3 --move zero --reason 'it was water'
	[ "$(brew 'b["B1"]["readings"]')" = 3 ]
	[ "$(ledger 'd[3]["role"], d[3]["cup"], d[3]["shown"]')" = "('zero', None, '1.80')" ]
}

@test "several readings are amended together or not at all" {
	run --separate-stderr "$BREWSPREAD" amend 1 2 999 --exclude --reason 'slip'
	[ "$status" -eq 2 ]
	[[ "$stderr" == *"there is no reading 999"* ]]
	[ "$(ledger '[r["flags"] for r in d.values() if r["flags"]]')" = "[]" ]
	"$BREWSPREAD" amend 1 2 --exclude --reason 'slip'
	[ "$(ledger '[r["id"] for r in d.values() if r["flags"]]')" = "[1, 2]" ]
}

@test "an amendment without a reason, without a deed, with two, or of no reading is refused" {
	for wrong in "3 --exclude" "3 --reason x" "3 --exclude --restore --reason x" "three --exclude --reason x" \
		"--exclude --reason x" "0 --exclude --reason x" "-1 --exclude --reason x" "99999999999999999999 --exclude --reason x"; do
		run "$BREWSPREAD" amend $wrong
		[ "$status" -eq 2 ] || { echo "$wrong: $status $output"; return 1; }
	done
	run "$BREWSPREAD" amend 3 --move "" --reason x
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" amend 3 --move $'A\e[2J' --reason x
	[ "$status" -eq 2 ]
	run "$BREWSPREAD" amend 3 --exclude --reason "   "
	[ "$status" -eq 2 ]
	[ "$(ledger '[r["id"] for r in d.values() if r["flags"] or r["note"]]')" = "[]" ]
}
