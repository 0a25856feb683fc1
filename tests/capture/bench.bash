# SPDX-License-Identifier: GPL-3.0-or-later
# What the tests of the daemon share: a bench folder, meters on it that say what the test tells them, a daemon.

meter_profile='[line]
pattern = R (?<seq>\d+) (?<value>-?\d+\.\d\d) % (?<temp>\d\d\.\d) C
no-reading = Lo
'

# bench_make METER...: a bench folder "." with these meters, each a link to a pseudo-terminal of that name.
bench_make() {
	[ -d /sys/class/tty ] || skip "/sys is not mounted here"
	mkdir -p "$BATS_TEST_TMPDIR/bench"
	cd "$BATS_TEST_TMPDIR/bench"
	printf '%s' "$meter_profile" >meter.ini
	printf '[bench]\nreadings = 3\n' >bench.ini
	local name
	for name in "$@"; do
		printf '[meter %s]\nport = %s.tty\nprofile = meter.ini\n' "$name" "$name" >>bench.ini
	done
	cat >manifest.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g,sample_type
		A1,coarse,20,320,280,filter
		A2,coarse,20,320,280,filter
		B1,fine,20,320,280,filter
		B2,fine,20,320,280,filter
	END
}

# meter_plug NAME [KIND PATH]: a simulated meter; NAME_in takes its script.
meter_plug() {
	local name=$1 kind=${2:-pty} path=${3:-$1.tty}
	mkfifo "$name.in"
	"$TEST_BUILD/capture/simulator" "$kind" "$path" <"$name.in" >"$name.out" 2>"$name.err" 3>&- 4>&- &
	exec {meter_fd}>"$name.in"
	printf -v "fd_$name" '%s' "$meter_fd"
	await grep -q ready "$name.out"
}

# meter_do NAME COMMAND...: one command of the simulator's script, done when this returns.
meter_do() {
	local name=$1 fd="fd_$1" before
	shift
	before=$(wc -l <"$name.out")
	printf '%s\n' "$*" >&"${!fd}"
	await eval "[ \$(wc -l <'$name.out') -gt $before ]"
}

# reading NAME NUMBER VALUE [TEMP]: the meter sends a line; TEMP is $TEMPERATURE or 22.4 unless told.
reading() {
	meter_do "$1" "send \"R $(printf %04d "$2") $3 % ${4:-${TEMPERATURE:-22.4}} C\\r\\n\""
}

# readings NAME FIRST VALUE...: one after the other, numbered from FIRST
readings() {
	local name=$1 number=$2 value
	shift 2
	for value in "$@"; do
		reading "$name" "$number" "$value"
		number=$((number + 1))
	done
}

# await COMMAND...: until it succeeds, 10 s at most.
await() {
	local i
	for i in $(seq 500); do
		"$@" && return
		sleep 0.02
	done
	echo "waited in vain for: $*" >&2
	tail -n 20 err.txt out.jsonl 2>/dev/null >&2
	return 1
}

# listen_start [OPTION...]: the daemon on this folder; its process is $daemon.
listen_start() {
	"$BREWSPREAD" listen --bench . --json "$@" >>out.jsonl 2>>err.txt 3>&- 4>&- &
	daemon=$!
	await test -S control
}

# crowded N: the daemon with N files open before its own.
crowded() {
	[ "$(ulimit -Hn)" = unlimited ] || [ "$(ulimit -Hn)" -ge $(($1 + 400)) ] || skip "$(ulimit -Hn) files may be open here"
	(
		ulimit -Sn $(($1 + 400))
		exec python3 - "$1" "$BREWSPREAD" listen --bench . --json >>out.jsonl 2>>err.txt 3>&- 4>&- <<-'END'
			import os, sys
			for _ in range(int(sys.argv[1])):
			    os.set_inheritable(os.open("/dev/null", os.O_RDONLY), True)
			os.execv(sys.argv[2], sys.argv[2:])
		END
	) &
	daemon=$!
	await test -S control
}

listen_stop() {
	kill -TERM "$daemon"
	wait "$daemon"
}

# opened N: until meters were opened so many times since the folder was made.
opened() {
	await eval "[ \$(grep -c ' is open' err.txt) -ge $1 ]"
}

# told N: until so many readings were acknowledged.
told() {
	await eval "[ \$(wc -l <out.jsonl) -ge $1 ]"
}

# of EXPRESSION: of the JSON d on standard input.
of() {
	python3 -c 'import json,sys; d=json.load(sys.stdin); print(eval(sys.argv[1], {"d": d}))' "$1"
}

status_of() {
	"$BREWSPREAD" status --bench . --json 2>/dev/null | of "$1"
}

# ledger_of EXPRESSION: of the rows of the ledger, a list of objects d.
ledger_of() {
	"$BREWSPREAD" export --bench . --format jsonl --lines |
		python3 -c 'import json,sys; d=[json.loads(l) for l in sys.stdin]; print(eval(sys.argv[1], {"d": d}))' "$1"
}

ledger_whole() {
	[ "$(python3 -c 'import sqlite3; print(sqlite3.connect("file:ledger.brewspread?mode=ro", uri=True).execute("PRAGMA integrity_check").fetchone()[0])')" = ok ]
}

bench_end() {
	if [ -n "${daemon:-}" ]; then
		kill -KILL "$daemon" 2>/dev/null || true
		wait "$daemon" 2>/dev/null || true
	fi
	cd "$BATS_TEST_TMPDIR"
}
