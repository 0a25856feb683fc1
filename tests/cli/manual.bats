#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The manual and the completions say what the program says of itself: all of it, and nothing else.

bats_require_minimum_version 1.5.0

setup() {
	MAN=$TEST_BUILD/../man
	COMPLETION=$TEST_BUILD/../completion
	cd "$BATS_TEST_TMPDIR"
}

commands_of_help() {
	"$BREWSPREAD" help | sed -n 's/^  \([a-z]\+\) .*/\1/p' | sort
}

# The options of a command, long and short, as its help lists them.
options_of_help() {
	"$BREWSPREAD" "$1" --help | sed -n '/^example:/q; s/^  \(-., \)\?--\([a-z-]\+\)\( .*\|$\)/\2/p' | sort
}

letters_of_help() {
	"$BREWSPREAD" "$1" --help | sed -n 's/^  -\(.\), --.*/\1/p' | sort
}

section_of_page() {
	sed -n "/^\.Ss $1\$/,/^\.S[sh] /{ /^\.S[sh] /d; p }" "$MAN/brewspread.1"
}

complete_words() {
	COMP_WORDS=("$@")
	COMP_CWORD=$(($# - 1))
	COMPREPLY=()
	_brewspread
}

@test "the manual has the commands of the help, and no others" {
	sed -n '/^\.Sh COMMANDS/,/^\.Sh SETTINGS/s/^\.Ss //p' "$MAN/brewspread.1" | sort >page
	commands_of_help >help
	[ "$(wc -l <help)" -ge 16 ]
	diff help page
}

@test "the manual has each command's options, and no others" {
	for command in $(commands_of_help); do
		section_of_page "$command" | grep -o 'Fl Fl [a-z-]\+' | sed 's/.* //' | sort -u >page
		options_of_help "$command" | grep -vx help >help || true
		diff help page || { echo "command: $command"; return 1; }
		section_of_page "$command" | sed -n 's/^\.It Fl \(.\) ,.*/\1/p' | sort >page
		letters_of_help "$command" | diff - page || { echo "command: $command"; return 1; }
	done
}

@test "the manual tells of each setting once" {
	sed -n '/^\.Sh SETTINGS/,/^\.Sh FILES/s/^\.It Fl Fl \([a-z-]\+\).*/\1/p' "$MAN/brewspread.1" | sort >page
	for command in $(commands_of_help); do
		section_of_page "$command" | sed -n '/^\.Sx SETTINGS/,/ \.$/s/^\.Fl Fl \([a-z-]\+\).*/\1/p'
	done | sort -u >taken
	[ -s taken ]
	diff taken page
}

@test "bench.ini's page has every key that a settings file may have" {
	sed -n '/^\[/!s/^;\{0,1\}\([a-z-]\+\) = .*/\1/p' "$BATS_TEST_DIRNAME/../../templates/bench.ini" |
		grep -vxE 'filter|espresso' | sort -u >template
	[ "$(wc -l <template)" -ge 15 ]
	while read -r key; do
		grep -qE "^\.It .*Li .*\b$key\b|^\.Li $key No =" "$MAN/brewspread-bench.5" || { echo "key: $key"; return 1; }
	done <template
}

@test "the pages are clean" {
	command -v mandoc >/dev/null || skip "mandoc is not installed"
	for page in "$MAN"/*; do
		mandoc -Tlint -W style "$page" | grep -v 'referenced manual not found' >lint || true
		[ ! -s lint ] || { cat lint; return 1; }
		mandoc -Tutf8 "$page" >text
		[ "$(wc -l <text)" -ge 20 ]
	done
}

@test "the pages are found by their names" {
	command -v man >/dev/null || skip "man is not installed"
	mkdir -p man/man1 man/man5
	cp "$MAN"/*.1 man/man1
	cp "$MAN"/*.5 man/man5
	man -M "$PWD/man" -w brewspread
	for page in manifest readings profile bench; do man -M "$PWD/man" -w "brewspread-$page"; done
}

@test "a page points to pages that there are" {
	for name in $(sed -n 's/^\.Xr \([a-z-]\+\) \([1-8]\).*/\1.\2/p' "$MAN"/*); do [ -f "$MAN/$name" ]; done
}

@test "bash completes commands" {
	source "$COMPLETION/brewspread.bash"
	complete_words brewspread ''
	printf '%s\n' "${COMPREPLY[@]}" | grep -vxE 'help|version' | sort >offered
	commands_of_help | diff - offered
	complete_words brewspread rep
	[ "${COMPREPLY[*]}" = report ]
}

@test "bash completes every option of every command" {
	source "$COMPLETION/brewspread.bash"
	for command in $(commands_of_help); do
		complete_words brewspread "$command" --
		printf '%s\n' "${COMPREPLY[@]}" | sed 's/^--//' | sort >offered
		options_of_help "$command" | diff - offered || { echo "command: $command"; return 1; }
	done
	complete_words brewspread report --contr
	[ "${COMPREPLY[*]}" = --control ]
}

@test "bash completes files, folders, profiles and words of operands" {
	source "$COMPLETION/brewspread.bash"
	mkdir 'my bench'
	touch 'my cups.txt' mine.ini
	complete_words brewspread report my
	[ "$(printf '%s\n' "${COMPREPLY[@]}" | sort | tr '\n' '|')" = 'my bench|my cups.txt|' ]
	complete_words brewspread report x.csv --bench m
	[ "${COMPREPLY[*]}" = 'my bench' ]
	complete_words brewspread listen -b m
	[ "${COMPREPLY[*]}" = 'my bench' ]
	complete_words brewspread report --profile bare
	[ "${COMPREPLY[*]}" = bare-number ]
	complete_words brewspread report --profile mine
	[ "${COMPREPLY[*]}" = mine.ini ]
	complete_words brewspread listen --from mine
	[ "${COMPREPLY[*]}" = mine.ini ]
	complete_words brewspread cup z
	[ "${COMPREPLY[*]}" = zero ]
	complete_words brewspread report --margin m
	[ "${#COMPREPLY[@]}" -eq 0 ]
}

@test "the completions are such as their shells read" {
	bash -n "$COMPLETION/brewspread.bash"
	! command -v zsh >/dev/null || zsh -n "$COMPLETION/brewspread.zsh"
	! command -v fish >/dev/null || fish --no-execute "$COMPLETION/brewspread.fish"
}

@test "zsh's and fish's completions have every option" {
	for command in $(commands_of_help); do
		options_of_help "$command" >help
		sed -n "s/.*seen_subcommand_from $command' -l \([a-z-]\+\).*/\1/p" "$COMPLETION/brewspread.fish" | sort | diff help -
		sed -n "/^	$command)\$/,/;;/s/.*'\*--\([a-z-]\+\)\[.*/\1/p" "$COMPLETION/brewspread.zsh" | sort | diff help -
	done
}

@test "fish completes as it would for a user" {
	command -v fish >/dev/null || skip "fish is not installed"
	run fish --no-config -c "source $COMPLETION/brewspread.fish; complete -C 'brewspread rep'; complete -C 'brewspread report --contr'"
	[[ $output == *report*--control* ]]
}
