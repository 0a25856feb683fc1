#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
#
# The house rules, each broken once in a small tree: a rule that nothing can
# break checks nothing.

house="$BATS_TEST_DIRNAME/../lint/house"

setup() {
	cd "$BATS_TEST_TMPDIR"
	mkdir -p src/base src/model src/physics src/stats src/ledger src/report src/run src/capture src/command
	touch README.md Makefile .gitignore
	source_file src/base/slice.h 'int slice_length(void);'
	source_file src/stats/describe.h 'double describe(void);'
	source_file src/run/manifest.h 'int manifest_read(void);'
	source_file src/ledger/ledger.h 'int ledger_open(void);'
	source_file src/main.c '#include "slice.h"'
}

# source_file PATH LINE...: a source file with its first line as it should be
source_file() {
	local path=$1
	shift
	printf '%s\n' '/* SPDX-License-Identifier: GPL-3.0-or-later */' "$@" >"$path"
}

# complains PATTERN: the house does, in so many words, and about nothing else
complains() {
	run "$house" .
	echo "$output"
	[ "$status" -eq 1 ]
	[ "${#lines[@]}" -eq 1 ]
	[[ $output == $1 ]]
}

# told of LINE in FOLDER/probe.c
rejects() {
	source_file "src/$1/probe.c" "$2"
	complains "src/$1/probe.c:2: $3*"
}

accepts() {
	source_file "src/$1" "$2"
	run "$house" .
	echo "$output"
	[ "$status" -eq 0 ]
	[ -z "$output" ]
}

@test "a clean tree passes in silence" {
	run "$house" .
	echo "$output"
	[ "$status" -eq 0 ]
	[ -z "$output" ]
}

@test "numbers are read in one place" {
	rejects run 'double dose(const char *s) { return strtod(s, NULL); }' 'strtod: '
}

@test "number.c may read numbers" {
	accepts base/number.c 'double dose(const char *s) { return strtod(s, NULL); }'
}

@test "atoi is refused" { rejects command 'int n(const char *s) { return atoi(s); }' 'atoi: '; }
@test "sscanf is refused" { rejects run 'int n(const char *s) { return sscanf(s, "%d", p); }' 'sscanf: '; }
@test "sprintf is refused" { rejects report 'void f(char *s) { sprintf(s, "%d", 1); }' 'sprintf: '; }
@test "strcpy is refused" { rejects run 'void f(char *s) { strcpy(s, "a"); }' 'strcpy: '; }
@test "strtok is refused" { rejects run 'void f(char *s) { strtok(s, ","); }' 'strtok: '; }
@test "setlocale is refused" { rejects command 'void f(void) { setlocale(LC_ALL, ""); }' 'setlocale: '; }
@test "localtime is refused" { rejects base 'struct tm *f(time_t t) { return localtime(&t); }' 'localtime: '; }
@test "localtime_r passes" { accepts base/clock.c 'void f(time_t t, struct tm *tm) { localtime_r(&t, tm); }'; }
@test "snprintf passes" { accepts run/probe.c 'void f(char *s) { snprintf(s, 2, "%d", 1); }'; }

@test "SQL outside the ledger is refused" { rejects report 'int f(void) { return sqlite3_step(s); }' 'sqlite3_step: '; }
@test "SQL in the ledger passes" { accepts ledger/probe.c 'int f(void) { return sqlite3_step(s); }'; }
@test "workbook calls outside the report are refused" {
	rejects run 'void f(void) { worksheet_write_number(s, 0, 0, 1, NULL); }' 'worksheet_write_number: '
}
@test "workbook calls in the report pass" { accepts report/probe.c 'void f(void) { workbook_close(b); }'; }
@test "printf below the commands is refused" { rejects stats 'void f(void) { printf("x"); }' 'printf: '; }
@test "stderr below the commands is refused" { rejects capture 'void f(void) { fputs("x", stderr); }' 'stderr: '; }
@test "a command may print" { accepts command/probe.c 'void f(void) { fprintf(stderr, "x"); }'; }
@test "a name in a comment or a string is no call" {
	accepts run/probe.c 'const char *s = "printf(1) strtod(2)"; /* never sprintf(s) nor sqlite3_step */'
}
@test "typedef struct is refused" { rejects model 'typedef struct { int a; } brew;' 'typedef struct'; }
@test "a typedef of a function passes" { accepts model/probe.c 'typedef enum status (*step)(int a);'; }

@test "stats may not include the run" { rejects stats '#include "manifest.h"' '"manifest.h" is of src/run'; }
@test "the report may not include the ledger" { rejects report '#include "ledger.h"' '"ledger.h" is of src/ledger'; }
@test "physics may not include stats" { rejects physics '#include "describe.h"' '"describe.h" is of src/stats'; }
@test "the run may read the ledger" { accepts run/probe.c '#include "ledger.h"'; }
@test "the ledger may not include the run" { rejects ledger '#include "manifest.h"' '"manifest.h" is of src/run'; }
@test "a header by its path is refused" { rejects run '#include "../base/slice.h"' '"../base/slice.h": '; }
@test "a header that is not there is refused" { rejects run '#include "nothing.h"' '"nothing.h" is not in src'; }
@test "an include in a comment is none" { accepts stats/probe.c '/* #include "manifest.h" */'; }

@test "a folder outside the order of the layers is refused" {
	mkdir src/extra
	source_file src/extra/probe.c ''
	complains 'src/extra/probe.c:1: src/extra has no place*'
}

@test "one name in two folders is refused" {
	source_file src/report/slice.c ''
	run "$house" .
	echo "$output"
	[ "$status" -eq 1 ]
	[[ $output == *'src/base/slice.h:1: another folder'* ]]
	[[ $output == *'src/report/slice.c:1: another folder'* ]]
}

@test "the name of a system header is refused" {
	source_file src/base/string.h ''
	complains 'src/base/string.h:1: <string.h> is a system header'
}

@test "a stray file at the top is refused" {
	touch notes.md
	complains 'notes.md:1: no place for it at the top*'
}

@test "the build folder and dot files may stand at the top" {
	mkdir build .ci
	touch build/strtod.c .editorconfig
	run "$house" .
	[ "$status" -eq 0 ]
}

@test "a missing licence line is refused" {
	echo 'int a;' >src/base/probe.c
	complains 'src/base/probe.c:1: first line is not*'
}

@test "a check that cannot fail its test is refused" {
	mkdir tests
	printf '#!/usr/bin/env bats\n# SPDX-License-Identifier: GPL-3.0-or-later\n\t! grep -q lost said\n\t! grep -q lost said || false\n' >tests/probe.bats
	complains 'tests/probe.bats:3: a command with ! ends no test*'
}

@test "a script without a licence line is refused" {
	mkdir tests
	printf '#!/bin/sh\n' >tests/probe
	complains 'tests/probe:1: no SPDX*'
}

@test "a path of one machine is refused" {
	echo "see /wor""k/somewhere" >README.md
	complains 'README.md:1: path of one machine*'
}

@test "a blank at the end of a line is refused" {
	printf 'word \n' >README.md
	complains 'README.md:1: blank at the end*'
}

@test "recorded input may end in blanks" {
	mkdir -p fixtures/demo
	printf 'A1 1.38 \n' >fixtures/demo/readings.txt
	run "$house" .
	[ "$status" -eq 0 ]
}

@test "carriage returns in C are refused" {
	printf '/* SPDX-License-Identifier: GPL-3.0-or-later */\nint a;\r\n' >src/base/probe.c
	complains 'src/base/probe.c:1: has carriage returns'
}

@test "unfinished work is refused" {
	source_file src/base/probe.c "/* TO""DO: the rest */"
	complains 'src/base/probe.c:2: unfinished*'
}
