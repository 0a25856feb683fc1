# SPDX-License-Identifier: GPL-3.0-or-later
#
# One Makefile for the whole tree. Sources and tests are found by their place:
#   src/*/*.c               the library, libbrewspread.a
#   src/main.c              the program, linked with it
#   tests/*.c               helpers linked into every test program
#   tests/unit/test_*.c     one test program each; tests/reference/ likewise
#   tests/fault/*.c         one preloadable object each
#   tests/fuzz/fuzz_*.c     one fuzz driver each
#   tests/{cli,fault,capture}/*.bats

VERSION := 0.1.0

BUILD ?= build
DEPS ?= yes
prefix ?= /usr/local
bindir ?= $(prefix)/bin
datadir ?= $(prefix)/share
mandir ?= $(datadir)/man

# What `make demo` runs after the program's name.
DEMO_REPORT := $(BUILD)/demo/comparison.xlsx
DEMO_ARGS := report fixtures/demo/manifest.csv fixtures/demo/readings.txt -o $(DEMO_REPORT)

# -- the tree ----------------------------------------------------------------

LIB_SRC := $(sort $(wildcard src/*/*.c))
MAIN_SRC := $(wildcard src/main.c)
HEADERS := $(sort $(wildcard src/*/*.h tests/*.h))
HELPER_SRC := $(sort $(wildcard tests/*.c))
UNIT_SRC := $(sort $(wildcard tests/unit/test_*.c))
REFERENCE_SRC := $(sort $(wildcard tests/reference/test_*.c))
PRELOAD_SRC := $(sort $(wildcard tests/fault/*.c))
FUZZ_SRC := $(sort $(wildcard tests/fuzz/fuzz_*.c))
BATS := $(sort $(wildcard tests/cli/*.bats tests/fault/*.bats tests/capture/*.bats))
MAN := $(sort $(wildcard docs/man/*.[1-8] docs/*.[1-8]))

object = $(patsubst %.c,$(BUILD)/obj/%.o,$(1))
LIB := $(BUILD)/libbrewspread.a
PROGRAM := $(if $(MAIN_SRC),$(BUILD)/brewspread)
UNIT := $(patsubst %.c,$(BUILD)/%,$(UNIT_SRC))
REFERENCE := $(patsubst %.c,$(BUILD)/%,$(REFERENCE_SRC))
PRELOAD := $(patsubst %.c,$(BUILD)/%.so,$(PRELOAD_SRC))
FUZZ := $(patsubst %.c,$(BUILD)/%,$(FUZZ_SRC))
TEST_LOCALE := $(BUILD)/tests/locale/de_DE.UTF-8

# -- flags -------------------------------------------------------------------
# pkg-config is asked at its first use, not when this file is read: on a fresh
# machine it comes with the other dependencies.

PACKAGES := xlsxwriter libpcre2-8 sqlite3 libRmath libserialport inih cairo pangocairo libsystemd nettle
PACKAGE_CFLAGS = $(eval PACKAGE_CFLAGS := $$(shell pkg-config --cflags $(PACKAGES)))$(PACKAGE_CFLAGS)
PACKAGE_LIBS = $(eval PACKAGE_LIBS := $$(shell pkg-config --libs $(PACKAGES)))$(PACKAGE_LIBS)

WARNINGS := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wvla -Wdate-time
DEFINES := -D_GNU_SOURCE -DMATHLIB_STANDALONE
INCLUDES := $(addprefix -I,$(patsubst %/,%,$(sort $(dir $(wildcard src/*/*.[ch])))))
TEST_DEFINES := -Itests -DTEST_DATA='"tests/reference/data"'

# No fused multiply-add: the same input gives the same digits on every machine.
COMMON := -std=c17 -g -ffp-contract=off -fPIE
ifdef SANITIZE
HARDENING := -O1 -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=all
else ifdef COVERAGE
HARDENING := -O0 --coverage
else
CF_PROTECTION = $(if $(filter x86_64 i%86,$(shell uname -m)),-fcf-protection)
CC_VERSION = $(eval CC_VERSION := $$(shell $$(CC) -dumpversion))$(CC_VERSION)
FORTIFY_LEVEL = $(if $(filter 4.% 5 6 7 8 9 10 11,$(CC_VERSION)),2,3)
HARDENING = -O2 -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=$(FORTIFY_LEVEL) -fstack-protector-strong \
	-fstack-clash-protection $(CF_PROTECTION) -ffile-prefix-map=$(CURDIR)=.
HARDENED_LINK := -Wl,-z,relro,-z,now
endif

FLAGS = $(COMMON) $(HARDENING) $(DEFINES) $(INCLUDES) $(PACKAGE_CFLAGS) $(CPPFLAGS) $(CFLAGS)
COMPILE = $(CC) $(FLAGS) $(WARNINGS) $(if $(WERROR),-Werror) -MMD -MP
LINK = $(CC) $(COMMON) $(HARDENING) -pie $(HARDENED_LINK) $(CFLAGS) $(LDFLAGS)
LIBS = $(PACKAGE_LIBS) -lcsv -lunistring -lz -lm $(LDLIBS)

# -- jobs --------------------------------------------------------------------
# Nobody should have to know -j.

JOBS := $(or $(shell nproc 2>/dev/null),2)
ifeq ($(MAKELEVEL)$(filter -j%,$(MAKEFLAGS)),0)
MAKEFLAGS += -j$(JOBS)
endif
MAKEFLAGS += --output-sync=target --no-print-directory

.DELETE_ON_ERROR:
.SUFFIXES:
.PHONY: all
all: $(PROGRAM) $(LIB) ## build the program: build/brewspread

# -- building ----------------------------------------------------------------

# Changes when the flags or the list of files do, so that both rebuild.
$(BUILD)/flags: FORCE
	@mkdir -p $(@D)
	@printf '%s\n' '$(CC) $(subst ','\'',$(FLAGS)) $(LDFLAGS) $(VERSION) $(datadir)' $(LIB_SRC) >$@.new
	@cmp -s $@.new $@ && rm $@.new || mv $@.new $@

$(BUILD)/obj/src/base/version.o: DEFINES += -DBREWSPREAD_VERSION='"$(VERSION)"' -DBREWSPREAD_DATADIR='"$(datadir)/brewspread"'
$(BUILD)/obj/tests/%.o: DEFINES += $(TEST_DEFINES)

$(BUILD)/obj/%.o: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -c $< -o $@

$(LIB): $(call object,$(LIB_SRC)) $(BUILD)/flags
	@rm -f $@
	$(AR) rcsD $@ $(filter %.o,$^)

$(BUILD)/brewspread: $(call object,$(MAIN_SRC)) $(LIB)
	$(LINK) $^ $(LIBS) -o $@

$(UNIT) $(REFERENCE): $(BUILD)/%: $(BUILD)/obj/%.o $(call object,$(HELPER_SRC)) $(LIB)
	@mkdir -p $(@D)
	$(LINK) $^ $(LIBS) -lcmocka -o $@

$(PRELOAD): $(BUILD)/%.so: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(CC) -std=c17 -g -O1 -D_GNU_SOURCE $(WARNINGS) $(if $(WERROR),-Werror) -fPIC -shared $< -o $@ -ldl

-include $(patsubst %.o,%.d,$(call object,$(LIB_SRC) $(MAIN_SRC) $(HELPER_SRC) $(UNIT_SRC) $(REFERENCE_SRC)))

.PHONY: FORCE tests clean
FORCE:

tests: $(UNIT) $(REFERENCE) $(PRELOAD) $(PROGRAM) $(LIB)

clean: ## remove the build folder
	rm -rf $(BUILD)
