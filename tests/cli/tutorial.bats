#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# docs/tutorial.md holds: its commands run one after the other in an empty folder, and print what it shows.

bats_require_minimum_version 1.5.0

@test "the tutorial's commands work, and print what it shows" {
	tutorial=$BATS_TEST_DIRNAME/../../docs/tutorial.md
	mkdir "$BATS_TEST_TMPDIR/bin" "$BATS_TEST_TMPDIR/empty"
	ln -s "$BREWSPREAD" "$BATS_TEST_TMPDIR/bin/brewspread"
	cd "$BATS_TEST_TMPDIR/empty"
	# Each block of commands is told apart in the output by its number.
	awk '/^```sh$/ { sh = 1; n++; print "echo \"@@ " n "\""; next } /^```/ { sh = 0 } sh' "$tutorial" >../commands
	awk '/^```sh$/ { n++ } /^```text$/ { shown = 1; next } /^```/ { shown = 0 } shown { print n "\t" $0 }' "$tutorial" >../shown
	[ "$(grep -c '^echo "@@' ../commands)" -ge 8 ]
	[ -s ../shown ]
	PATH=$BATS_TEST_TMPDIR/bin:$PATH bash -eu ../commands >../output 2>&1 || { tail -n 20 ../output; return 1; }
	while IFS=$'\t' read -r block line; do
		awk -v n="$block" '/^@@ / { on = $2 == n } on' ../output | grep -qF -- "$line" ||
			{ echo "block $block does not print: $line"; cat ../output; return 1; }
	done <../shown
}
