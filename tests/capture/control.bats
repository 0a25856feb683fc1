#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The control socket: who may use it, what it answers, and clients that misbehave.

bats_require_minimum_version 1.5.0
load bench

setup() {
	bench_make left
	meter_plug left
	listen_start
	opened 1
}

teardown() {
	bench_end
}

# client SCRIPT: Python with "s", a connection, and "ask(text)", which sends a line and gives the answer
client() {
	python3 - "$@" <<-END
		import json, os, select, socket, sys, time
		def connect():
		    s = socket.socket(socket.AF_UNIX); s.connect("control"); s.settimeout(10); return s
		s = connect()
		f = s.makefile("rb")
		hello = json.loads(f.readline())
		def ask(text):
		    s.sendall(text.encode() + b"\n"); return json.loads(f.readline())
		$(cat)
	END
}

still_works() {
	reading left "$1" 1.38
	await eval "grep -q 'R 000$1 ' out.jsonl"
	"$BREWSPREAD" status --bench . >/dev/null
}

@test "the socket is its owner's alone, and a group's where that is set" {
	[ "$(stat -c %a control)" = 600 ]
	listen_stop
	[ ! -e control ]
	group=$(id -gn)
	printf '[control]\ngroup = %s\n' "$group" >>bench.ini
	listen_start
	[ "$(stat -c '%a %G' control)" = "660 $group" ]
	listen_stop
	sed -i 's/^group = .*/group = no-such-group-here/' bench.ini
	run "$BREWSPREAD" listen --bench .
	[ "$status" -eq 2 ]
	[[ "$output" == *no-such-group-here* ]]
}

@test "the socket of a daemon that was killed is replaced" {
	kill -KILL $daemon
	wait $daemon || true
	[ -S control ]
	listen_start
	still_works 1
}

@test "it greets with its protocol and answers each line with one line" {
	client <<-'END'
		assert hello["protocol"] == 1, hello
		assert ask("cup A1") == {"ok": True}
		assert ask("for left")["ok"]
		assert ask("cup standard 5")["ok"]
		assert ask("status")["meters"][0]["cup"]["label"] == "standard 5.00"
		assert not ask("for right")["ok"]
		for bad in ["", "cup", "cup standard nine", "cup A\x1b[2J", "nonsense", "open ../../etc", "close", "next", "ask"]:
		    a = ask(bad)
		    assert a["ok"] is False and a["error"], (bad, a)
		s.sendall(b"cup A1\r\nstatus\n")
		assert json.loads(f.readline())["ok"] and json.loads(f.readline())["ok"]
	END
	still_works 1
}

@test "followers are told each reading as it is stored" {
	client <<-'END' >followed 3>&- &
		ask("follow"); open("following", "w").close()
		for i in range(3): print(json.loads(f.readline())["line"])
	END
	await test -e following
	for i in 1 2 3; do reading left $i 1.38; done
	await eval '[ "$(wc -l <followed)" = 3 ]'
	[ "$(cut -c1-6 followed | tr '\n' ' ')" = "R 0001 R 0002 R 0003 " ]
}

@test "half a request holds nothing up" {
	client <<-'END' 3>&- &
		s.sendall(b"sta"); open("half", "w").close(); time.sleep(30)
	END
	half=$!
	await test -e half
	still_works 1
	kill $half
}

@test "a request that is too long ends its connection, and that is said" {
	client <<-'END'
		s.sendall(b"x" * 5000)
		try: rest = f.read()
		except ConnectionResetError: rest = b""
		assert b"1024" in rest or not rest
	END
	await grep -q 'longer than 1024' err.txt
	still_works 1
}

@test "a client that floods it waits, and others are served" {
	client <<-'END' 3>&- &
		s.setblocking(False)
		open("flooding", "w").close()
		end = time.time() + 8
		while time.time() < end:
		    try: s.send(b"status\n" * 500)
		    except BlockingIOError: time.sleep(0.01)
		    except OSError: break
	END
	flood=$!
	await test -e flooding
	for i in 1 2 3 4 5; do still_works $i; done
	[ "$(awk '{ print $14 + $15 }' "/proc/$daemon/stat")" -lt 300 ]
	kill $flood 2>/dev/null || true
}

@test "a follower that never reads is let go, with the reason" {
	client <<-'END' 3>&- &
		ask("follow"); open("following", "w").close(); time.sleep(30)
	END
	deaf=$!
	await test -e following
	meter_do left 'flood 3000'
	await grep -q 'does not read what it is told' err.txt
	await eval '[ "$(status_of "d[\"meters\"][0][\"readings\"]")" = 3000 ]'
	kill $deaf
}

@test "more clients than there is room for: the silent ones make place" {
	client <<-'END' 3>&- &
		many = [connect() for _ in range(60)]
		open("many", "w").close(); time.sleep(30)
	END
	many=$!
	await test -e many
	still_works 1
	grep -q 'silent for longest' err.txt
	kill $many
}

@test "a client that can't be let in, as no more files may be open, waits, which costs no processor, and gets in later" {
	command -v prlimit >/dev/null || skip "prlimit is not installed"
	listen_stop
	crowded 200
	opened 2
	prlimit --pid $daemon --nofile=200: # what is open stays so
	client <<-'END' 3>&- &
		open("in", "w").close()
	END
	waiting=$!
	await grep -q 'has to wait: Too many open files' err.txt
	before=$(awk '{ print $14 + $15 }' "/proc/$daemon/stat")
	sleep 2
	[ $(($(awk '{ print $14 + $15 }' "/proc/$daemon/stat") - before)) -le 10 ]
	reading left 1 1.38
	told 1
	[ ! -e in ]
	prlimit --pid $daemon --nofile=1024:
	await test -e in
	wait $waiting
	[ "$(grep -c 'has to wait' err.txt)" = 1 ]
	still_works 2
}

@test "a daemon that may open few files waits for its meters all the same, and costs no processor" {
	command -v prlimit >/dev/null || skip "prlimit is not installed"
	prlimit --pid $daemon --nofile=20:
	reading left 1 1.38
	told 1
	before=$(awk '{ print $14 + $15 }' "/proc/$daemon/stat")
	sleep 2
	[ $(($(awk '{ print $14 + $15 }' "/proc/$daemon/stat") - before)) -le 10 ]
	reading left 2 1.38
	told 2
}

@test "clients that come, send noise and go by the hundred leave nothing behind" {
	before=$(ls "/proc/$daemon/fd" | wc -l)
	client <<-'END'
		for i in range(300):
		    c = connect()
		    try: c.sendall(os.urandom(200))
		    except OSError: pass
		    c.close()
	END
	still_works 1
	await eval '[ "$(ls "/proc/$daemon/fd" | wc -l)" -le '"$before"' ]'
}

@test "without a daemon it is said that none listens" {
	listen_stop
	run "$BREWSPREAD" status --bench .
	[ "$status" -eq 3 ]
	[[ "$output" == *'no brewspread listens'* ]]
}

@test "a bench folder with a path longer than a socket's name may be works" {
	listen_stop
	deep=$(printf 'a-folder-with-a-long-name-%.0s' 1 2 3 4 5 6)
	mkdir "$deep"
	cp bench.ini meter.ini "$deep"
	"$BREWSPREAD" listen --bench "$PWD/$deep" 2>deep.txt >/dev/null 3>&- 4>&- &
	daemon=$!
	await test -S "$deep/control"
	"$BREWSPREAD" status --bench "$PWD/$deep"
}
