#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What goes with the program: the service unit, the udev rule, the settings to copy, and where they are put.

bats_require_minimum_version 1.5.0

ROOT=$BATS_TEST_DIRNAME/../..
TEMPLATES=$ROOT/templates

setup() {
	cd "$BATS_TEST_TMPDIR"
	sed 's,@bindir@,/bin,' "$TEMPLATES/brewspread.service" >brewspread.service
}

@test "the service is confined: its exposure is at most 2.0" {
	command -v systemd-analyze >/dev/null || skip "systemd-analyze is not installed"
	systemd-analyze security --offline=yes --threshold=20 --no-pager "$PWD/brewspread.service" >score ||
		{ grep -E '✗|Overall' score; return 1; }
}

@test "the service unit says nothing that systemd does not know" {
	command -v systemd-analyze >/dev/null || skip "systemd-analyze is not installed"
	run systemd-analyze verify "$PWD/brewspread.service"
	! grep -iE 'unknown|invalid|failed to parse|not supported' <<<"$output" || false
}

@test "what the daemon asks of the kernel, the service lets it" {
	command -v systemd-analyze >/dev/null || skip "systemd-analyze is not installed"
	command -v strace >/dev/null || skip "strace is not installed"
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers"
	strace -f -o /dev/null true 2>/dev/null || skip "strace is not allowed here"
	cat >manifest.csv <<-'END'
		brew,treatment,dose_g,water_g,beverage_g
		A1,a,20,320,280
		B1,b,20,320,280
	END
	mkfifo left.fifo
	printf '[meter left]\nport = left.fifo\nprofile = bare-number\n' >bench.ini
	"$BREWSPREAD" open tray manifest.csv >/dev/null
	strace -f -qq -o calls "$BREWSPREAD" listen --plain --bench . >out 2>err &
	daemon=$!
	exec 8<>left.fifo
	for i in $(seq 200); do grep -q 'is open' err && break; sleep 0.05; done
	printf '1.38\n1.39\n1.40\n1.41\n1.42\n1.41\n' >&8
	for i in $(seq 400); do [ -s runs/tray/report.xlsx ] && grep -q '3 of 3' out && break; sleep 0.05; done
	"$BREWSPREAD" status --bench . >/dev/null
	pkill -TERM -P $daemon
	wait $daemon || true
	exec 8>&-
	[ -s runs/tray/report.xlsx ]
	allowed() {
		local entry
		systemd-analyze syscall-filter "$1" </dev/null | sed -n 's/^ *\([@a-z0-9_-]\+\)$/\1/p' | while read -r entry; do
			case $entry in
			"$1") ;;
			@*) allowed "$entry" ;;
			*) echo "$entry" ;;
			esac
		done
	}
	# as the unit has it: the first line allows, the second takes back, the third gives again
	[ "$(grep -c '^SystemCallFilter=' brewspread.service)" -eq 3 ]
	allowed @system-service | sort -u >first
	{ allowed @privileged; allowed @resources; } | sort -u >second
	{ allowed @chown; echo setpriority; } | sort -u >third
	grep -qx 'SystemCallFilter=@system-service' brewspread.service
	grep -qx 'SystemCallFilter=~@privileged @resources' brewspread.service
	grep -qx 'SystemCallFilter=@chown setpriority' brewspread.service
	comm -23 first second | sort -u - third >may
	# exec is systemd's own doing before the filter holds; the rest is the daemon's
	sed -n 's/^[0-9]\+ *\([a-z0-9_]\+\)(.*/\1/p' calls | sort -u | grep -vE '^(execve|exit_group|exit)$' >asked
	[ "$(wc -l <asked)" -gt 20 ]
	comm -23 asked may >refused
	[ ! -s refused ] || { cat refused; return 1; }
}

@test "bench.ini to copy names every setting, and with all of them set it has no fault" {
	sed 's/^;\([a-z-]\+ = \)/\1/; s/^;\(\[meter\)/\1/' "$TEMPLATES/bench.ini" >bench.ini
	sed -i 's,^port = .*,port = left.fifo,; s/^group = .*/group = '"$(id -gn)"'/' bench.ini
	echo 'A1 1.38' | "$BREWSPREAD" paste --bench . >/dev/null
	run --separate-stderr "$BREWSPREAD" export --bench .
	[ "$status" -eq 0 ] || { echo "$stderr"; return 1; }
	[ -z "$stderr" ]
	sed -n 's/.*\.name = "\([a-z-]*\)",.*/\1/p' "$ROOT/src/model/settings.c" >settings
	[ "$(wc -l <settings)" -ge 12 ]
	while read -r setting; do
		grep -q "^$setting = " bench.ini || { echo "bench.ini lacks $setting"; return 1; }
	done <settings
}

@test "the udev rules are whole lines of known keys, and none is in force as it comes" {
	! grep -qvE '^(#.*)?$' "$TEMPLATES/70-brewspread.rules" || false
	sed -n 's/^#\(SUBSYSTEM.*\)/\1/p' "$TEMPLATES/70-brewspread.rules" >rules
	[ "$(wc -l <rules)" -eq 2 ]
	! tr ',' '\n' <rules | grep -vE '^ *(SUBSYSTEM|ENV\{[A-Z_]+\}|TAG|SYMLINK)(==|=|\+=)"[^"]*"$' || false
}

@test "install puts everything below its prefix, and uninstall takes it away again" {
	[ -z "${SANITIZED:-}" ] || skip "not with sanitizers"
	build=${TEST_BUILD%/tests}
	# with flags of its own it would build the program anew, under the other tests
	make -s -C "$ROOT" -o "$build/flags" BUILD="$build" DEPS=no DESTDIR="$PWD/root" prefix=/usr install >/dev/null
	for file in bin/brewspread lib/systemd/system/brewspread.service lib/udev/rules.d/70-brewspread.rules \
		share/brewspread/bench.ini share/brewspread/labels-de.csv share/brewspread/profiles/counted-line.ini; do
		[ -f "root/usr/$file" ] || { echo "no $file"; return 1; }
	done
	grep -q '^ExecStart=/usr/bin/brewspread listen' root/usr/lib/systemd/system/brewspread.service
	root/usr/bin/brewspread --version
	make -s -C "$ROOT" -o "$build/flags" BUILD="$build" DEPS=no DESTDIR="$PWD/root" prefix=/usr uninstall >/dev/null
	[ -z "$(find root -type f)" ]
}
