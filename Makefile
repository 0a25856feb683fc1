# SPDX-License-Identifier: GPL-3.0-or-later
#
# One Makefile for the whole tree. Sources and tests are found by their place:
#   src/*/*.c               the library, libbrewspread.a
#   src/main.c              the program, linked with it
#   src/pages.c             writes the manual pages of docs/man/*.in and the completions, from the program's own rows
#   tests/*.c               helpers linked into every test program
#   tests/unit/test_*.c     one test program each; tests/reference/ likewise
#   tests/fault/*.c         one preloadable object each, as tests/capture/*_shim.c
#   tests/capture/*.c       one helper program each
#   tests/fuzz/fuzz_*.c     one fuzz driver each, and a replay_* of it without the fuzzer
#   tests/{cli,fault,capture,fuzz}/*.bats

VERSION := 0.1.0

BUILD ?= build
DEPS ?= yes
prefix ?= /usr/local
bindir ?= $(prefix)/bin
datadir ?= $(prefix)/share
mandir ?= $(datadir)/man

# What `make demo` runs after the program's name.
DEMO_REPORT := $(BUILD)/demo/comparison.xlsx
DEMO_ARGS := report fixtures/demo/manifest.csv fixtures/demo/readings.txt --control plain --summary -o $(DEMO_REPORT)

# -- the tree ----------------------------------------------------------------

LIB_SRC := $(sort $(wildcard src/*/*.c))
MAIN_SRC := $(wildcard src/main.c)
PAGES_SRC := $(wildcard src/pages.c)
HEADERS := $(sort $(wildcard src/*/*.h tests/*.h tests/*/*.h))
HELPER_SRC := $(sort $(wildcard tests/*.c))
UNIT_SRC := $(sort $(wildcard tests/unit/test_*.c))
REFERENCE_SRC := $(sort $(wildcard tests/reference/test_*.c))
PRELOAD_SRC := $(sort $(wildcard tests/fault/*.c tests/capture/*_shim.c))
TOOL_SRC := $(filter-out $(PRELOAD_SRC),$(sort $(wildcard tests/capture/*.c)))
BENCH_SRC := $(sort $(wildcard tests/bench/*.c))
FUZZ_SRC := $(sort $(wildcard tests/fuzz/fuzz_*.c))
BATS := $(sort $(wildcard tests/cli/*.bats tests/fault/*.bats tests/capture/*.bats tests/fuzz/*.bats))
MAN_SRC := $(sort $(wildcard docs/man/*.in))

object = $(patsubst %.c,$(BUILD)/obj/%.o,$(1))
LIB := $(BUILD)/libbrewspread.a
PROGRAM := $(if $(MAIN_SRC),$(BUILD)/brewspread)
UNIT := $(patsubst %.c,$(BUILD)/%,$(UNIT_SRC))
REFERENCE := $(patsubst %.c,$(BUILD)/%,$(REFERENCE_SRC))
PRELOAD := $(patsubst %.c,$(BUILD)/%.so,$(PRELOAD_SRC))
TOOL := $(patsubst %.c,$(BUILD)/%,$(TOOL_SRC))
BENCH := $(patsubst %.c,$(BUILD)/%,$(BENCH_SRC))
FUZZ := $(patsubst %.c,$(BUILD)/%,$(FUZZ_SRC))
REPLAY := $(patsubst tests/fuzz/fuzz_%.c,$(BUILD)/tests/fuzz/replay_%,$(FUZZ_SRC))
MAN := $(patsubst docs/man/%.in,$(BUILD)/man/%,$(MAN_SRC))
COMPLETION := $(addprefix $(BUILD)/completion/brewspread.,bash zsh fish)
TEST_LOCALE := $(BUILD)/tests/locale/de_DE.UTF-8

# -- flags -------------------------------------------------------------------
# pkg-config is asked at its first use, not when this file is read: on a fresh
# machine it comes with the other dependencies.

PACKAGES := xlsxwriter libpcre2-8 sqlite3 libRmath libserialport inih nettle jansson
# Loaded when they are needed: src/report/drawing.h, src/station/notify.h.
LOADED := cairo pangocairo libsystemd
PACKAGE_CFLAGS = $(eval PACKAGE_CFLAGS := $$(shell pkg-config --cflags $(PACKAGES) $(LOADED)))$(PACKAGE_CFLAGS)
PACKAGE_LIBS = $(eval PACKAGE_LIBS := $$(shell pkg-config --libs $(PACKAGES)))$(PACKAGE_LIBS)

# What checks the code does not bear with warnings; WERROR= gives in.
WERROR ?= $(if $(filter test tests lint sanitize valgrind coverage,$(MAKECMDGOALS)),1)
WARNINGS := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wvla -Wdate-time
DEFINES := -D_GNU_SOURCE -DMATHLIB_STANDALONE
INCLUDES := $(addprefix -I,$(patsubst %/,%,$(sort $(dir $(wildcard src/*/*.[ch])))))
TEST_DEFINES := -Itests -DTEST_DATA='"tests/reference/data"'

# No fused multiply-add: the same input gives the same digits on every machine.
COMMON := -std=c17 -g -ffp-contract=off -fPIE
# Instrumented code blinds the compiler to lengths that it sees in a plain build, where this warning is an error too.
ifdef SANITIZE
HARDENING := -Wno-format-truncation -O1 -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=all
else ifdef FUZZING
HARDENING := -O1 -fno-omit-frame-pointer -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all
else ifdef COVERAGE
HARDENING := -Wno-format-truncation -O0 --coverage
else
CF_PROTECTION = $(if $(filter x86_64 i%86,$(shell uname -m)),-fcf-protection)
CC_VERSION = $(eval CC_VERSION := $$(shell $$(CC) -dumpversion))$(CC_VERSION)
FORTIFY_LEVEL = $(if $(filter 4.% 5 6 7 8 9 10 11,$(CC_VERSION)),2,3)
HARDENING = -O2 -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=$(FORTIFY_LEVEL) -fstack-protector-strong \
	-fstack-clash-protection $(CF_PROTECTION) -ffile-prefix-map=$(CURDIR)=.
HARDENED_LINK := -Wl,-z,relro,-z,now
endif

FLAGS = $(COMMON) $(HARDENING) $(DEFINES) $(INCLUDES) $(PACKAGE_CFLAGS) $(CPPFLAGS) $(CFLAGS)
COMPILE = $(CC) $(WARNINGS) $(FLAGS) $(if $(WERROR),-Werror) -MMD -MP
LINK = $(CC) $(COMMON) $(HARDENING) -pie $(HARDENED_LINK) $(CFLAGS) $(LDFLAGS)
LIBS = $(PACKAGE_LIBS) -lcsv -lunistring -lz -lm $(LDLIBS)

# -- jobs --------------------------------------------------------------------
# Nobody should have to know -j.

JOBS := $(or $(shell nproc 2>/dev/null),2)
ifeq ($(MAKELEVEL)$(filter -j%,$(MAKEFLAGS)),0)
MAKEFLAGS += -j$(JOBS)
endif
MAKEFLAGS += --no-print-directory

# V=1 shows the commands whole.
ifdef V
say = $(2)
else
say = @printf '  %-4s %s\n' $(1) '$(patsubst $(BUILD)/%,%,$@)' && $(2)
endif

.DELETE_ON_ERROR:
.SUFFIXES:
.PHONY: all
all: $(PROGRAM) $(LIB) $(MAN) $(COMPLETION) ## build the program: build/brewspread, its manual and completions

# -- building ----------------------------------------------------------------

# Changes when the flags or the list of files do, so that both rebuild. What one object alone is defined with is private:
# this file would inherit it from whichever object asks first, and all would be built anew for another goal.
$(BUILD)/flags: FORCE
	@mkdir -p $(@D)
	@printf '%s\n' '$(CC) $(subst ','\'',$(FLAGS)) $(LDFLAGS) $(VERSION) $(datadir)' $(LIB_SRC) >$@.new
	@cmp -s $@.new $@ && rm $@.new || mv $@.new $@

$(BUILD)/obj/src/base/version.o: private DEFINES += -DBREWSPREAD_VERSION='"$(VERSION)"' -DBREWSPREAD_DATADIR='"$(datadir)/brewspread"'
$(BUILD)/obj/tests/%.o: private DEFINES += $(TEST_DEFINES)

$(BUILD)/obj/%.o: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(call say,CC,$(COMPILE) -c $< -o $@)

# Built in as they are.
$(BUILD)/obj/src/report/write_up.o: templates/write-up.md templates/write-up.html

$(LIB): $(call object,$(LIB_SRC)) $(BUILD)/flags
	@rm -f $@
	$(call say,AR,$(AR) rcsD $@ $(filter %.o,$^))

$(BUILD)/brewspread: $(call object,$(MAIN_SRC)) $(LIB)
	$(call say,LINK,$(LINK) $^ $(LIBS) -o $@)

$(BUILD)/pages: $(call object,$(PAGES_SRC)) $(LIB)
	$(call say,LINK,$(LINK) $^ $(LIBS) -o $@)

$(MAN): $(BUILD)/man/%: docs/man/%.in $(BUILD)/pages
	@mkdir -p $(@D)
	$(call say,MAN,$(BUILD)/pages page $< >$@)

$(COMPLETION): $(BUILD)/completion/brewspread.%: $(BUILD)/pages
	@mkdir -p $(@D)
	$(call say,GEN,$(BUILD)/pages $* >$@)

$(UNIT) $(REFERENCE): $(BUILD)/%: $(BUILD)/obj/%.o $(call object,$(HELPER_SRC)) $(LIB)
	@mkdir -p $(@D)
	$(call say,LINK,$(LINK) $^ $(LIBS) -lcmocka -o $@)

$(REPLAY): $(BUILD)/tests/fuzz/replay_%: $(BUILD)/obj/tests/fuzz/fuzz_%.o $(BUILD)/obj/tests/fuzz/replay.o $(LIB)
	@mkdir -p $(@D)
	$(call say,LINK,$(LINK) $^ $(LIBS) -o $@)

$(TOOL) $(BENCH): $(BUILD)/%: $(BUILD)/obj/%.o $(LIB)
	@mkdir -p $(@D)
	$(call say,LINK,$(LINK) $^ $(LIBS) -o $@)

$(PRELOAD): $(BUILD)/%.so: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(call say,CC,$(CC) -std=c17 -g -O1 -D_GNU_SOURCE $(WARNINGS) $(if $(WERROR),-Werror) -fPIC -shared $< -o $@ -ldl)

-include $(patsubst %.o,%.d,$(call object,$(LIB_SRC) $(MAIN_SRC) $(PAGES_SRC) $(HELPER_SRC) $(UNIT_SRC) $(REFERENCE_SRC) $(TOOL_SRC) $(BENCH_SRC) $(FUZZ_SRC) tests/fuzz/replay.c))

.PHONY: FORCE tests
FORCE:

tests: $(UNIT) $(REFERENCE) $(PRELOAD) $(TOOL) $(REPLAY) $(PROGRAM) $(LIB) $(MAN) $(COMPLETION) $(TEST_LOCALE)/LC_NUMERIC

# A comma for the decimal point, without touching the machine's own locales.
$(TEST_LOCALE)/LC_NUMERIC:
	@mkdir -p $(@D)
	@localedef --no-archive -i de_DE -f UTF-8 $(abspath $(@D))

# -- what needs more than make and a compiler --------------------------------
# Each of these first installs what the machine lacks (DEPS=no: takes it as it
# is), then starts make anew.

GATED := demo test lint format sanitize valgrind coverage recalc bench fuzz look test-vm faults
NEEDS_demo := build
NEEDS_test := build test
NEEDS_lint := build test lint
NEEDS_format := lint
NEEDS_sanitize := build test
NEEDS_valgrind := build test slow
NEEDS_coverage := build test slow
NEEDS_recalc := build test slow
NEEDS_bench := build
NEEDS_fuzz := build fuzz
NEEDS_look := build look
NEEDS_test-vm := build vm
NEEDS_faults := build test

.PHONY: $(GATED) oracle install uninstall deb clean help

ifneq ($(DEPS),no)

ifneq ($(filter $(GATED),$(MAKECMDGOALS)),)
.NOTPARALLEL:
endif

$(GATED):
	@tests/deps $(NEEDS_$@)
	@$(MAKE) DEPS=no $(if $(filter lint,$@),-k) $@

else

TEST_ENV = BREWSPREAD='$(abspath $(BUILD))/brewspread' TEST_BUILD='$(abspath $(BUILD))/tests' \
	LOCPATH='$(abspath $(BUILD))/tests/locale' SANITIZED='$(SANITIZE)'

demo: $(PROGRAM)
	@mkdir -p $(BUILD)/demo
	$(BUILD)/brewspread $(DEMO_ARGS) || [ $$? -eq 1 ] # 1: the demo's data have faults, on purpose
	@printf 'The report is %s\n' '$(abspath $(DEMO_REPORT))'

test: tests
	@$(TEST_ENV) tests/run -j $(JOBS) $(UNIT) $(REFERENCE) $(BATS)

# Every report goes to a file, so that one from a process in the background
# fails the run too; 66 is none of the program's own exit statuses.
SANITIZER_LOG = $(abspath $(BUILD))/sanitize/report
SANITIZER_OPTIONS = exitcode=66:log_path=$(SANITIZER_LOG)

sanitize:
	@rm -f $(SANITIZER_LOG).*
	@ASAN_OPTIONS=$(SANITIZER_OPTIONS):detect_stack_use_after_return=1:strict_string_checks=1 \
	UBSAN_OPTIONS=$(SANITIZER_OPTIONS):print_stacktrace=1 \
	LSAN_OPTIONS=exitcode=66:suppressions=$(CURDIR)/tests/leaks.supp:print_suppressions=0 \
	$(MAKE) BUILD=$(BUILD)/sanitize SANITIZE=1 test; status=$$?; \
	if ls $(SANITIZER_LOG).* >/dev/null 2>&1; then cat $(SANITIZER_LOG).*; exit 1; fi; exit $$status

VALGRIND = valgrind -q --leak-check=full --show-leak-kinds=definite --errors-for-leak-kinds=definite \
	--error-exitcode=66 --suppressions=tests/valgrind.supp --log-file=$(BUILD)/valgrind/%p.log

# test_port runs itself anew with a shim preloaded, which memcheck can't follow; the sanitizers see it.
VALGRINDED := $(filter-out %/test_port,$(UNIT))

valgrind: tests
	@rm -rf $(BUILD)/valgrind && mkdir -p $(BUILD)/valgrind $(BUILD)/demo
	@$(TEST_ENV) TEST_WRAPPER='$(VALGRIND)' tests/run -j $(JOBS) $(VALGRINDED); status=$$?; \
	$(if $(PROGRAM),$(VALGRIND) $(PROGRAM) $(DEMO_ARGS) >/dev/null || [ $$? -eq 1 ] || status=1;) \
	find $(BUILD)/valgrind -name '*.log' -size +0 -exec cat {} + | grep . && status=1; exit $$status

COVERED := --filter src/physics/ --filter src/stats/

coverage:
	@find $(BUILD)/coverage -name '*.gcda' -delete 2>/dev/null; true
	@$(MAKE) BUILD=$(BUILD)/coverage COVERAGE=1 BATS= test # the programs alone: the rest holds times of the plain build
	gcovr --root . --filter src/ --sort-percentage $(BUILD)/coverage/obj
	gcovr --root . $(COVERED) --fail-under-line 95 --print-summary -o $(BUILD)/coverage/computation.txt $(BUILD)/coverage/obj

recalc: $(PROGRAM)
	$(if $(wildcard tests/recalc/run),$(TEST_ENV) tests/recalc/run)

bench: $(PROGRAM) $(BENCH)
	$(if $(wildcard tests/bench/run),$(TEST_ENV) tests/bench/run $(BENCH_ARGS))

faults: tests
	@$(TEST_ENV) tests/fault/walk

test-vm: $(PROGRAM)
	@mkdir -p $(BUILD)/vm
	$(TEST_ENV) VM_PARTS='$(abspath $(BUILD))/vm' tests/vm/run

look: $(PROGRAM)
	$(if $(wildcard tests/look/run),$(TEST_ENV) tests/look/run)

# -- lint --------------------------------------------------------------------

LINT_SRC := $(LIB_SRC) $(MAIN_SRC) $(PAGES_SRC)
LINT_TEST_SRC := $(HELPER_SRC) $(UNIT_SRC) $(REFERENCE_SRC) $(TOOL_SRC) $(BENCH_SRC)
FORMATTED := $(LINT_SRC) $(LINT_TEST_SRC) $(PRELOAD_SRC) $(FUZZ_SRC) $(HEADERS)
CLANG := clang-14
TIDIED := $(patsubst %.c,$(BUILD)/lint/%.tidy,$(LINT_SRC))
CLANGED := $(patsubst %.c,$(BUILD)/lint/%.clang,$(LINT_SRC) $(LINT_TEST_SRC))
CLANG_FLAGS = -std=c17 -O1 $(DEFINES) $(INCLUDES) $(PACKAGE_CFLAGS) $(WARNINGS)

CPPCHECK = cppcheck -q -j$(JOBS) --std=c11 --enable=warning,performance,portability --inline-suppr \
	--error-exitcode=1 --cppcheck-build-dir=$(BUILD)/lint/cppcheck

.PHONY: lint-format lint-house lint-cppcheck
lint: lint-format lint-house lint-cppcheck $(CLANGED) $(TIDIED)
	@echo 'lint: nothing to complain about'

lint-format:
	@$(if $(FORMATTED),clang-format-14 --dry-run -Werror $(FORMATTED))

lint-house:
	@tests/lint/house

lint-cppcheck:
	@mkdir -p $(BUILD)/lint/cppcheck
	@$(if $(LINT_SRC),$(CPPCHECK) $(filter-out -DMATHLIB%,$(DEFINES)) $(INCLUDES) $(LINT_SRC))

$(BUILD)/lint/src/base/version.clang $(BUILD)/lint/src/base/version.tidy: \
	private DEFINES += -DBREWSPREAD_VERSION='"$(VERSION)"' -DBREWSPREAD_DATADIR='"$(datadir)/brewspread"'
$(BUILD)/lint/tests/%.clang: private DEFINES += $(TEST_DEFINES)

$(BUILD)/lint/%.clang: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(call say,CLANG,$(CLANG) $(CLANG_FLAGS) -Werror -MMD -MP -MF $@.d -MT $@ -MT $(@:.clang=.tidy) -c $< -o $@)

$(BUILD)/lint/%.tidy: %.c $(BUILD)/lint/%.clang .clang-tidy
	$(call say,TIDY,clang-tidy-14 --quiet $< -- $(CLANG_FLAGS) 2>$@.err >$@.out || { cat $@.out; grep -v "warnings\? generated" $@.err; exit 1; })
	@touch $@

-include $(addsuffix .d,$(CLANGED))

format:
	clang-format-14 -i $(FORMATTED)

# -- fuzzing -----------------------------------------------------------------

FUZZ_SECONDS ?= 60

ifdef FUZZING
LINK_FUZZER = $(CC) $(COMMON) -fsanitize=fuzzer,address,undefined -pie

fuzz: $(FUZZ)
	@for driver in $(FUZZ); do \
		name=$$(basename $$driver); seeds=$(BUILD)/seeds/$$name; \
		rm -rf $$seeds; tests/fuzz/seeds $$name $$seeds; mkdir -p $(BUILD)/corpus/$$name; echo "== $$name"; \
		$$driver -max_total_time=$(FUZZ_SECONDS) -timeout=60 -rss_limit_mb=4096 -print_final_stats=1 \
			-artifact_prefix=$(BUILD)/$$name- $(FUZZ_ARGS) $(BUILD)/corpus/$$name $$seeds \
			>$(BUILD)/$$name.log 2>&1 || { tail -n 40 $(BUILD)/$$name.log; exit 1; }; \
		grep -E 'DONE|number_of_executed_units' $(BUILD)/$$name.log; \
	done

$(FUZZ): $(BUILD)/%: $(BUILD)/obj/%.o $(LIB)
	@mkdir -p $(@D)
	$(call say,LINK,$(LINK_FUZZER) $^ $(LIBS) -o $@)
else
fuzz:
	@$(MAKE) BUILD=$(BUILD)/fuzz CC=$(CLANG) FUZZING=1 fuzz
endif

endif

# Listed here, for the rules above stand twice.
demo: ## make the report of the invented comparison in fixtures/demo
test: ## build with warnings as errors and run every test (about two minutes)
lint: ## formatting, clang, clang-tidy, cppcheck and the house rules
format: ## format the C code
sanitize: ## the tests under the address and undefined-behaviour sanitizers
valgrind: ## the unit tests and the demo under memcheck
coverage: ## which lines the tests reach; fails below 95 % in physics and statistics
recalc: ## recalculate the workbooks in a spreadsheet program and compare
bench: ## how long large comparisons take
look: ## draw reports that are hard to draw, check the pages in a browser, leave pictures to look at
test-vm: ## the daemon in a virtual machine with USB serial adapters: cable out and in, other names
faults: ## let every call of the system fail once, while the program reads, stores and reports
fuzz: ## feed the readers with mutated input (FUZZ_SECONDS=60 each)

oracle: ## make the expected statistics anew, where R is installed
	@command -v Rscript >/dev/null || { echo 'oracle: R is not installed (Debian: r-base-core)' >&2; exit 1; }
	@set -e; for script in $(sort $(wildcard tests/reference/oracle/*.R)); do echo $$script; Rscript --vanilla $$script; done

# -- installing --------------------------------------------------------------

TEMPLATES := $(filter-out %.service %.rules,$(shell find templates -type f 2>/dev/null | sort))
bashdir ?= $(datadir)/bash-completion/completions
zshdir ?= $(datadir)/zsh/site-functions
fishdir ?= $(datadir)/fish/vendor_completions.d
unitdir ?= $(prefix)/lib/systemd/system
rulesdir ?= $(prefix)/lib/udev/rules.d

install: $(PROGRAM) $(MAN) $(COMPLETION) ## install program, manual, completions, templates, service, udev rule (prefix, DESTDIR)
	install -D -m 755 $(PROGRAM) $(DESTDIR)$(bindir)/brewspread
	@set -e; for page in $(MAN); do install -D -m 644 $$page $(DESTDIR)$(mandir)/man$${page##*.}/$${page##*/}; done
	@set -e; for file in $(TEMPLATES); do install -D -m 644 $$file $(DESTDIR)$(datadir)/brewspread/$${file#templates/}; done
	install -D -m 644 $(BUILD)/completion/brewspread.bash $(DESTDIR)$(bashdir)/brewspread
	install -D -m 644 $(BUILD)/completion/brewspread.zsh $(DESTDIR)$(zshdir)/_brewspread
	install -D -m 644 $(BUILD)/completion/brewspread.fish $(DESTDIR)$(fishdir)/brewspread.fish
	install -d $(DESTDIR)$(unitdir)
	sed 's,@bindir@,$(bindir),' templates/brewspread.service >$(DESTDIR)$(unitdir)/brewspread.service
	chmod 644 $(DESTDIR)$(unitdir)/brewspread.service
	install -D -m 644 templates/70-brewspread.rules $(DESTDIR)$(rulesdir)/70-brewspread.rules

uninstall: ## remove what install put there
	rm -f $(DESTDIR)$(bindir)/brewspread
	@for page in $(MAN); do rm -f $(DESTDIR)$(mandir)/man$${page##*.}/$${page##*/}; done
	rm -f $(DESTDIR)$(bashdir)/brewspread $(DESTDIR)$(zshdir)/_brewspread $(DESTDIR)$(fishdir)/brewspread.fish
	rm -f $(DESTDIR)$(unitdir)/brewspread.service $(DESTDIR)$(rulesdir)/70-brewspread.rules
	rm -rf $(DESTDIR)$(datadir)/brewspread

# -- the Debian package ------------------------------------------------------
# Everything that could tell when or where it was built is taken from the newest commit, or SOURCE_DATE_EPOCH.

DEB_FOLDER := $(BUILD)/deb/brewspread-$(VERSION)

ifneq ($(DEPS),no)
deb: ## build the Debian package: build/brewspread_VERSION_ARCH.deb
	@tests/deps build deb
	@$(MAKE) DEPS=no deb
else
deb:
	@rm -rf $(BUILD)/deb && mkdir -p $(DEB_FOLDER)
	@cp -R README.md LICENSE Makefile src templates docs $(DEB_FOLDER) && cp -R .debian $(DEB_FOLDER)/debian
	@set -e; epoch=$${SOURCE_DATE_EPOCH:-$$(git log -1 --format=%ct)}; \
	printf 'brewspread (%s) unstable; urgency=medium\n\n  * Built from the source of version %s.\n\n -- %s  %s\n' \
		'$(VERSION)' '$(VERSION)' "$$(sed -n 's/^Maintainer: //p' .debian/control)" \
		"$$(LC_ALL=C date -u -R -d @$$epoch)" >$(DEB_FOLDER)/debian/changelog; \
	cd $(DEB_FOLDER) && env -u MAKEFLAGS -u MAKELEVEL -u BUILD SOURCE_DATE_EPOCH=$$epoch DEB_BUILD_OPTIONS='noautodbgsym parallel=$(JOBS)' \
		dpkg-buildpackage -b -us -uc -d >../log 2>&1 || { tail -n 40 ../log; exit 1; }
	@cp $(BUILD)/deb/brewspread_$(VERSION)_*.deb $(BUILD)/
	@ls $(BUILD)/brewspread_$(VERSION)_*.deb
endif

clean: ## remove the build folder
	rm -rf $(BUILD)

help: ## this list
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/  \1\t\2/p' Makefile | expand -t 14
