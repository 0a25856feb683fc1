#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The daemon killed over and over in the middle of its work. KILLS sets how often.

bats_require_minimum_version 1.5.0
load bench

teardown() {
	bench_end
}

@test "killed at any moment: every reading that was told is in the ledger, once, in order" {
	kills=${KILLS:-60}
	bench_make
	printf '[meter left]\nport = meter-01\nprofile = meter.ini\n' >>bench.ini
	mkfifo fleet.in
	"$TEST_BUILD/capture/fleet" . 1 40000 100000 <fleet.in >fleet.out 2>/dev/null 3>&- 4>&- &
	fleet=$!
	exec 9>fleet.in
	await grep -q ready fleet.out
	echo >&9
	python3 - "$BREWSPREAD" "$kills" <<-'END'
		import json, os, random, signal, subprocess, sys, time
		random.seed(7)
		program, kills = sys.argv[1], int(sys.argv[2])
		told = []
		empty = 0
		for n in range(kills):
		    p = subprocess.Popen([program, "listen", "--bench", ".", "--json"], stdout=open("told", "wb"), stderr=subprocess.DEVNULL)
		    end = time.time() + 10
		    # some are killed before they said anything
		    while n % 5 and os.path.getsize("told") == 0 and time.time() < end: time.sleep(0.001)
		    time.sleep(random.uniform(0, 0.03))
		    p.send_signal(signal.SIGKILL); p.wait()
		    lines = open("told", "rb").read().split(b"\n")[:-1]
		    empty += not lines
		    told += [json.loads(l) for l in lines]
		rows = {}
		last = 0
		sequences = []
		out = subprocess.run([program, "export", "--bench", ".", "--format", "jsonl"], stdout=subprocess.PIPE, check=True).stdout
		for line in out.splitlines():
		    r = json.loads(line)
		    assert r["id"] > last, "ids grow"
		    last = r["id"]
		    rows[r["id"]] = r
		    sequences.append(int(r["sequence"]))
		for t in told:
		    assert t["id"] in rows and rows[t["id"]]["line"] == t["line"], t
		assert len({t["id"] for t in told}) == len(told), "told once"
		assert all(a < b for a, b in zip(sequences, sequences[1:])), "in order, none twice"
		assert len(told) > kills, len(told)
		print(f"# {kills} kills, {len(told)} readings told, {len(rows)} stored, {empty} killed before any", file=open("said", "w"))
	END
	cat said >&3
	kill $fleet
	exec 9>&-
	ledger_whole
}
