# cairn - built with GNU make, gcc and Debian 12's packages.
#
#   make            build/cairn
#   make demo       score the demo event, then serve it in fast motion
#   make test       everything that must hold before a commit
#   make help       every target
#
# Sources are found by pattern: a new lib/*.c, server/*.c or test program needs no line here.
#
# Variants share this file through two variables and a build folder of their own:
#   make BUILD=build/asan SANITIZE=address,undefined ...
#   make BUILD=build/coverage COVERAGE=1 ...

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DELETE_ON_ERROR:
.DEFAULT_GOAL := all
MAKEFLAGS += --no-builtin-rules

# The commands themselves are shown with V=1.
Q := $(if $(V),,@)

# One job a core unless the command line says otherwise.
JOBS ?= $(shell nproc)
ifeq ($(MAKELEVEL),0)
MAKEFLAGS += -j$(JOBS)
endif

BUILD ?= build
PREFIX ?= /usr/local
DEMO := seed-demo/merrow-2027
FUZZ_SECONDS ?= 600
FUZZ_RUNS ?= 1000
FUZZ_RUNS_order ?= 600 # scores six times a run
FUZZ_RUNS_http ?= 800
FUZZ_TIMEOUT_http := 70 # a whole server with threads, beside other tests
SOAK_ARGS ?=
ORACLE_SEEDS ?= 1:8

CC := gcc
AR := gcc-ar
# Debian's own, whatever other may come first in PATH: it has the Debian packages.
PYTHON := PYTHONDONTWRITEBYTECODE=1 /usr/bin/python3
# Debian's where it is there; 18 or later.
NODE := $(if $(wildcard /usr/bin/node),/usr/bin/node,node)

# ---------------------------------------------------------------------------------------------
# Flags

# What few commands use is loaded when it is used, not linked (server/library.h): libmicrohttpd,
# gnutls, libcurl and pango are here for their headers only.
# Looked up when first used, since `deps` may have to install pkg-config before that.
pkg_once = $(eval $1 := $$(shell pkg-config $2))$($1)
LIB_CFLAGS = $(call pkg_once,LIB_CFLAGS,--cflags jansson libsodium)
LIB_LIBS = $(call pkg_once,LIB_LIBS,--libs jansson libsodium)
# As the system's headers: warnings in them are not ours.
SERVER_CFLAGS = $(patsubst -I%,-isystem%,$(call pkg_once,SERVER_INCLUDES,--cflags libmicrohttpd gnutls \
	libqrencode sqlite3 zlib libcurl pangocairo))
SERVER_LIBS = $(call pkg_once,SERVER_LIBS,--libs libqrencode sqlite3 zlib) -pthread

# For "quoted" names only, so that no header of ours stands in for a system header of that name.
OURS := -iquote lib -iquote server

STANDARD := -std=c17 -D_GNU_SOURCE
WARNINGS := -Wall -Wextra -Wshadow -Wconversion -Werror
HARDENING := -fstack-protector-strong -fstack-clash-protection -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2
OPTIMISE := -O2
LINKING := -pie -Wl,-z,relro -Wl,-z,now -Wl,--as-needed
# How many times as long a test may take.
SLOWNESS := 1

ifdef SANITIZE
# Fortified calls would hide the originals from the sanitizers. The instrumented code trips gcc's
# flow warnings, which the plain build has already made errors.
OPTIMISE := -O1 -fno-omit-frame-pointer -fsanitize=$(SANITIZE) -fno-sanitize-recover=all
WARNINGS += -Wno-error
HARDENING :=
LINKING := -pie -fsanitize=$(SANITIZE)
SLOWNESS := 4
endif
ifdef COVERAGE
OPTIMISE := -O0 --coverage
HARDENING :=
LINKING += --coverage
endif

CFLAGS = $(STANDARD) $(OPTIMISE) -g -fPIE $(WARNINGS) $(HARDENING) -ffile-prefix-map=$(CURDIR)=. \
	-MMD -MP

# ---------------------------------------------------------------------------------------------
# Sources

LIB_C := $(sort $(wildcard lib/*.c))
SERVER_C := $(sort $(wildcard server/*.c))

# One test program each. What several of them share stands in tests/support/.
TEST_DIRS := lib server published reference properties
TEST_C := $(sort $(foreach dir,$(TEST_DIRS),$(wildcard tests/$(dir)/*.c)))
# Programs that tests run: the cases, the route table as JSON.
RUNNER_C := $(wildcard tests/cases/run_cases.c)
TABLE_C := $(wildcard tests/http/route_table.c)
SUPPORT_C := $(sort $(wildcard tests/support/*.c))
BENCH_C := $(sort $(wildcard tests/bench/*.c))
FUZZ_C := $(sort $(wildcard tests/fuzz/fuzz_*.c))

TEST_PY := $(sort $(wildcard tests/*/test_*.py))
LINT_PY := $(filter tests/lint/% tests/harness/%,$(TEST_PY))
SOAK_PY := $(filter tests/soak/%,$(TEST_PY)) # waits more than it works: never last
BENCH_PY := $(sort $(wildcard tests/bench/bench_*.py))
BROWSER_MJS := $(sort $(wildcard tests/browser/test_*.mjs tests/web/*.test.mjs))

ALL_TEST_C := $(TEST_C) $(RUNNER_C) $(TABLE_C) $(SUPPORT_C) $(BENCH_C) $(FUZZ_C)
HEADERS := $(sort $(wildcard lib/*.h server/*.h tests/*/*.h))
FORMATTED := $(LIB_C) $(SERVER_C) $(ALL_TEST_C) $(HEADERS)

object = $(patsubst %.c,$(BUILD)/obj/%.o,$1)
program = $(addprefix $(BUILD)/tests/,$(basename $(notdir $1)))

TEST_PROGRAMS := $(call program,$(TEST_C) $(RUNNER_C) $(TABLE_C))
BENCH_PROGRAMS := $(addprefix $(BUILD)/bench/,$(basename $(notdir $(BENCH_C))))
ifneq ($(words $(TEST_PROGRAMS)),$(words $(sort $(TEST_PROGRAMS))))
$(error two test programs have the same name: $(sort $(TEST_C)))
endif

# ---------------------------------------------------------------------------------------------
# What must be installed first. The stamps make later runs quick; `make deps` looks again.

STAMPS := build/deps
DEPS_BUILD := $(STAMPS)/build
DEPS_TEST := $(STAMPS)/test
NPM_LOCK := $(wildcard tests/package-lock.json)
DEPS_NPM := $(if $(NPM_LOCK),$(STAMPS)/npm)

$(DEPS_BUILD): deploy/packages/build.txt
	@deploy/packages/install.sh $^
	@mkdir -p $(@D) && touch $@

# After the build packages, never beside them: two installers would wait for one lock.
$(DEPS_TEST): deploy/packages/test.txt $(DEPS_BUILD)
	@deploy/packages/install.sh $<
	@mkdir -p $(@D) && touch $@

# Whatever npm is there will do, if its node is 18 or later. Another vendor's clashes with Debian's.
$(STAMPS)/npm: deploy/packages/npm.txt $(NPM_LOCK) $(DEPS_TEST)
	@deploy/packages/npm.sh tests
	@mkdir -p $(@D) && touch $@

# What pages load from npm. Its licence goes with it, as a comment.
WEB_LOCK := web/package-lock.json
$(STAMPS)/web: deploy/packages/npm.txt $(WEB_LOCK) $(DEPS_BUILD)
	@deploy/packages/npm.sh web
	@mkdir -p $(@D) && touch $@

# The modules and texts of a page as one small file: on a slow line each file of its own costs a
# round trip. Only the desk needs the npm package, whose licence goes with it.
WEB_MODULES := $(filter-out web/control-worker.js,$(wildcard web/*.js)) $(wildcard web/words/*.json)
bundle = esbuild $< --bundle --minify --format=esm --target=es2022 --charset=utf8
build/web/control.js: web/control.js $(WEB_MODULES) $(STAMPS)/web
	@mkdir -p $(@D)
	$(Q){ echo '/*!'; cat web/node_modules/idb/LICENSE; echo '*/'; $(bundle); } >$@

build/web/office.js: web/office.js $(WEB_MODULES) $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)$(bundle) >$@

# A script like the page's own, whose names are nobody else's.
build/web/board.js: web/board.js $(WEB_MODULES) $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)$(bundle) --format=iife >$@

build/web/%.css: web/%.css $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)esbuild $< --minify --charset=utf8 >$@

WEB_MADE := $(addprefix build/web/,style.css board.js control.js control.css office.js office.css)

.PHONY: deps
deps: $(DEPS_BUILD) $(DEPS_TEST) $(DEPS_NPM)
	@deploy/packages/install.sh deploy/packages/build.txt deploy/packages/test.txt

# ---------------------------------------------------------------------------------------------
# The library and the program

LIB_A := $(BUILD)/libcairn.a
SERVER_A := $(BUILD)/libserver.a
SUPPORT_A := $(BUILD)/libsupport.a
CAIRN := $(BUILD)/cairn

.PHONY: all
all: $(CAIRN)

$(BUILD)/obj/lib/%.o: lib/%.c Makefile | $(DEPS_BUILD)
	@mkdir -p $(@D)
	@echo "  compile $<"
	$(Q)$(CC) $(CFLAGS) -iquote lib $(LIB_CFLAGS) -c $< -o $@

$(BUILD)/obj/server/%.o: server/%.c Makefile | $(DEPS_BUILD)
	@mkdir -p $(@D)
	@echo "  compile $<"
	$(Q)$(CC) $(CFLAGS) $(OURS) $(LIB_CFLAGS) $(SERVER_CFLAGS) -c $< -o $@

$(BUILD)/obj/tests/%.o: tests/%.c Makefile | $(DEPS_TEST)
	@mkdir -p $(@D)
	@echo "  compile $<"
	$(Q)$(CC) $(CFLAGS) $(OURS) -iquote tests/support $(LIB_CFLAGS) $(SERVER_CFLAGS) -c $< -o $@

define archive
@mkdir -p $(@D)
@rm -f $@
$(Q)$(AR) rcsD $@ $(filter %.o,$^)
endef

$(LIB_A): $(call object,$(LIB_C))
	$(archive)

# The server without its main(), for the tests.
$(SERVER_A): $(call object,$(filter-out server/main.c,$(SERVER_C)))
	$(archive)

$(SUPPORT_A): $(call object,$(SUPPORT_C))
	$(archive)

$(CAIRN): $(call object,$(SERVER_C)) $(LIB_A)
	@echo "  link    $@"
	$(Q)$(CC) $(LINKING) $(filter %.o,$^) $(LIB_A) $(LIB_LIBS) $(SERVER_LIBS) -o $@

# ---------------------------------------------------------------------------------------------
# Test and bench programs

# A test named *_nomem replaces the allocator: it defines __wrap_malloc and its brothers, and the
# library's calls go there.
%_nomem: ALLOCATOR := -Wl,--wrap=malloc,--wrap=calloc,--wrap=realloc,--wrap=strdup,--wrap=strndup

define link_program
@mkdir -p $(@D)
@echo "  link    $@"
$(Q)$(CC) $(LINKING) $(ALLOCATOR) $< $(SUPPORT_A) $(SERVER_A) $(LIB_A) -lcmocka -lgmp $(LIB_LIBS) \
	$(SERVER_LIBS) -o $@
endef

define test_rule
$(call program,$1): $(call object,$1) $(SUPPORT_A) $(SERVER_A) $(LIB_A)
	$$(link_program)
endef
define bench_rule
$(BUILD)/bench/$(basename $(notdir $1)): $(call object,$1) $(SUPPORT_A) $(SERVER_A) $(LIB_A)
	$$(link_program)
endef
$(foreach c,$(TEST_C) $(RUNNER_C) $(TABLE_C),$(eval $(call test_rule,$c)))
$(foreach c,$(BENCH_C),$(eval $(call bench_rule,$c)))

# Clang asks for much memory, a little at a time: in large pages it is a fifth quicker.
LARGE_PAGES := GLIBC_TUNABLES=glibc.malloc.hugetlb=1

# Fuzz targets are clang's and always sanitized; they compile the sources once more.
FUZZ := build/fuzz
FUZZ_FLAGS := $(STANDARD) -O1 -gline-tables-only -fno-omit-frame-pointer -fno-sanitize-recover=all -MMD -MP
FUZZ_PROGRAMS := $(addprefix $(FUZZ)/,$(basename $(notdir $(FUZZ_C))))
FUZZ_OBJECTS := $(patsubst %.c,$(FUZZ)/obj/%.o,$(LIB_C) $(filter-out server/main.c,$(SERVER_C)))

$(FUZZ)/obj/%.o: %.c Makefile | $(DEPS_TEST)
	@mkdir -p $(@D)
	@echo "  compile $< (fuzz)"
	$(Q)$(LARGE_PAGES) clang $(FUZZ_FLAGS) -fsanitize=fuzzer-no-link,address,undefined $(OURS) \
		-iquote tests/support $(LIB_CFLAGS) $(SERVER_CFLAGS) -c $< -o $@

$(FUZZ)/libcairn.a: $(FUZZ_OBJECTS)
	$(archive)

$(FUZZ)/fuzz_%: $(FUZZ)/obj/tests/fuzz/fuzz_%.o $(FUZZ)/libcairn.a
	@echo "  link    $@"
	$(Q)clang -fsanitize=fuzzer,address,undefined $^ $(LIB_LIBS) $(SERVER_LIBS) -o $@

# This one takes whole files into itself, which the compiler's dependency list does not tell.
$(call object,server/assets.c) $(FUZZ)/obj/server/assets.o: $(sort $(filter-out web/node_modules,\
	$(wildcard schema/* schema/presets/* web/* web/words/*))) $(WEB_MADE)

.SECONDARY: $(patsubst %.c,$(FUZZ)/obj/%.o,$(FUZZ_C))

-include $(wildcard $(BUILD)/obj/*/*.d $(BUILD)/obj/*/*/*.d $(FUZZ)/obj/*/*.d $(FUZZ)/obj/*/*/*.d)

# ---------------------------------------------------------------------------------------------
# Tests. Each line of the plan is one test program: name, seconds allowed, command.

# What asks for more memory than there is gets none, as without a sanitizer.
export ASAN_OPTIONS := exitcode=99:strict_string_checks=1:detect_stack_use_after_return=1:allocator_may_return_null=1
export LSAN_OPTIONS := suppressions=$(CURDIR)/tests/support/lsan.txt:print_suppressions=0
export UBSAN_OPTIONS := print_stacktrace=1:exitcode=99
# The thread sanitizer guesses how large a library's thread-local memory is, and of a library that is
# loaded late it sometimes guesses more than there is in all.
export TSAN_OPTIONS := exitcode=99:second_deadlock_stack=1:allocator_may_return_null=1:intercept_tls_get_addr=0:suppressions=$(CURDIR)/tests/support/tsan.txt

# What tests may ask the environment for; they run in the repository's root.
export CAIRN
export BUILD

define newline


endef
define tab
	
endef
plan_line = $1$(tab)$2$(tab)$3$(newline)
plan_of = $(subst $(newline) ,$(newline),$(foreach it,$1,$(call $2,$(it))))
# make within the plan: alone, its jobs are the plan's.
alone := MAKEFLAGS= $(MAKE) --no-print-directory -j1 -k

# Seconds are guards against a program that hangs: a busy machine may take many times what one takes
# alone.
program_line = $(call plan_line,$(patsubst tests/%.c,%,$1),600,$(call program,$1))
python_line = $(call plan_line,$(patsubst tests/%.py,%,$1),600,$(PYTHON) -m unittest discover \
	-s $(dir $1) -t $(dir $1) -p $(notdir $1))
browser_line = $(call plan_line,$(patsubst tests/%.mjs,%,$1),600,$(NODE) $1)
cases_line = $(call plan_line,$1,600,$(call program,$(RUNNER_C)) tests/$1 $(CAIRN))
oracle_line = $(call plan_line,oracle/differ,900,$(PYTHON) $1 --cairn $(CAIRN) \
	--seeds $(ORACLE_SEEDS))
lint_line = $(call plan_line,lint/$1,1200,$(alone) $1)
fuzz_line = $(call plan_line,fuzz/$(notdir $1),400,$(alone) $(notdir $1)-short)

LINTS := tidy-lib tidy-server tidy-tests cppcheck format-check house

PLAN_LINT = $(call plan_of,$(LINTS),lint_line)$(call plan_of,$(LINT_PY),python_line)
PLAN_PROGRAMS = $(call plan_of,$(wildcard tests/oracle/differ.py),oracle_line)$(call \
	plan_of,$(if $(RUNNER_C),$(notdir $(wildcard tests/cases tests/broken))),cases_line)$(call \
	plan_of,$(TEST_C),program_line)$(call \
	plan_of,$(SOAK_PY) $(filter-out $(LINT_PY) $(SOAK_PY),$(TEST_PY)),python_line)
PLAN_BROWSER = $(call plan_of,$(BROWSER_MJS),browser_line)
PLAN_FUZZ = $(call plan_of,$(FUZZ_PROGRAMS),fuzz_line)

# A browser is many programs, and tests in it hold the page to some milliseconds: one at a time. Of
# the others one more than there are processors, since many wait for a limit or a heartbeat to come.
run_plan = $(PYTHON) tests/harness/run.py --jobs $(shell expr $(JOBS) + 1) --alone browser/ \
	--slowness $(SLOWNESS) --logs $(BUILD)/logs

.PHONY: test programs test-programs
programs: $(CAIRN) $(TEST_PROGRAMS)

test: $(DEPS_TEST) $(DEPS_NPM) programs $(FUZZ_PROGRAMS)
	$(file >$(BUILD)/plan,$(PLAN_LINT)$(PLAN_FUZZ)$(PLAN_BROWSER)$(PLAN_PROGRAMS))
	@$(run_plan) $(BUILD)/plan

# The README's two commands and every command of the runbook, where nothing is installed;
# what is committed. Needs root and half an hour: tests/bare/bare.py says more.
# PARTS="demo documents test" names some of it.
.PHONY: test-bare
test-bare:
	@deploy/packages/install.sh deploy/packages/bare.txt
	@$(PYTHON) tests/bare/bare.py $(PARTS)

# In a real Chromium: what people see.
.PHONY: test-browser
test-browser: $(DEPS_TEST) $(DEPS_NPM) $(CAIRN)
	$(file >$(BUILD)/plan-browser,$(PLAN_BROWSER))
	@$(run_plan) $(BUILD)/plan-browser

# Without lint, fuzzing and browser: what the sanitizer and coverage variants run.
test-programs: $(DEPS_TEST) $(DEPS_NPM) programs
	$(file >$(BUILD)/plan,$(PLAN_PROGRAMS))
	@$(run_plan) $(BUILD)/plan

# Tests that choose at random make the same choices in every run, or one run in hundreds would fail
# over what nobody has changed. Here they choose anew, EXPLORE_ROUNDS times.
EXPLORE_ROUNDS ?= 5
.PHONY: explore
explore: $(DEPS_TEST) $(CAIRN)
	@for round in $$(seq $(EXPLORE_ROUNDS)); do CAIRN_SEED=new $(PYTHON) -m unittest discover \
		-s tests/durability -t tests/durability || exit 1; done

.PHONY: asan tsan
asan:
	@$(MAKE) --no-print-directory BUILD=build/asan SANITIZE=address,undefined test-programs

# The load, of which the thread sanitizer sees most, goes on for longer than elsewhere.
tsan:
	@CAIRN_LOAD_SECONDS=20 $(MAKE) --no-print-directory BUILD=build/tsan SANITIZE=thread \
		test-programs

# Replays what once crashed, then the seeds, then a bounded search. A new crash leaves its input in
# build/fuzz/; with the fix it goes to tests/fuzz/regress/NAME/.
regress = $(wildcard tests/fuzz/regress/$*/*)
search = $< -timeout=$(or $(strip $(FUZZ_TIMEOUT_$*)),10) -rss_limit_mb=1024 -artifact_prefix=$(FUZZ)/$*- \
	$(addprefix -dict=,$(wildcard tests/fuzz/$*.dict))
seeds = $(wildcard tests/fuzz/seeds/$*)

FUZZ_SHORT := $(addsuffix -short,$(notdir $(FUZZ_PROGRAMS)))
FUZZ_LONG := $(addsuffix -long,$(notdir $(FUZZ_PROGRAMS)))
.PHONY: fuzz $(FUZZ_SHORT) $(FUZZ_LONG)
fuzz: $(FUZZ_LONG)
	@$(if $(FUZZ_LONG),:,echo "no fuzz targets" >&2; exit 1)

$(FUZZ_SHORT): fuzz_%-short: $(FUZZ)/fuzz_%
	$(if $(regress),$(search) $(regress))
	rm -rf $(FUZZ)/found/$* && mkdir -p $(FUZZ)/found/$*
	$(search) -seed=1 -runs=$(or $(strip $(FUZZ_RUNS_$*)),$(FUZZ_RUNS)) -max_total_time=30 $(FUZZ)/found/$* $(seeds)

$(FUZZ_LONG): fuzz_%-long: $(FUZZ)/fuzz_%
	$(if $(regress),$(search) $(regress))
	mkdir -p $(FUZZ)/corpus/$*
	$(search) -max_total_time=$(FUZZ_SECONDS) -print_final_stats=1 $(FUZZ)/corpus/$* $(seeds)

# Timing only here, one program after the other.
.PHONY: bench
bench: $(DEPS_TEST) $(DEPS_NPM) $(CAIRN) $(BENCH_PROGRAMS)
	@$(if $(BENCH_PROGRAMS)$(BENCH_PY),:,echo "no benchmarks" >&2; exit 1)
	@$(foreach p,$(BENCH_PROGRAMS),$p;)
	@$(foreach p,$(BENCH_PY),$(PYTHON) $p;)

# Four days of an event in SOAK_MINUTES (6), with a crowd and all that may befall the machine. Its
# figures go into the table that `make bench` ends with.
.PHONY: soak
soak: $(DEPS_TEST) $(CAIRN)
	@$(PYTHON) tests/soak/soak.py $(SOAK_ARGS)

# Counts the files that no test entered, too. Where a test fails, what ran is told all the same.
capture = lcov --quiet --capture --directory build/coverage/obj --base-directory . --no-external
.PHONY: coverage
coverage:
	@find build/coverage -name '*.gcda' -delete 2>/dev/null || true
	@rm -f build/coverage/failed
	@$(MAKE) --no-print-directory BUILD=build/coverage COVERAGE=1 test-programs || \
		touch build/coverage/failed
	@$(capture) --initial --output-file build/coverage/none.info
	@$(capture) --output-file build/coverage/run.info
	@lcov --quiet -a build/coverage/none.info -a build/coverage/run.info \
		--output-file build/coverage/all.info
	@lcov --quiet --extract build/coverage/all.info '$(CURDIR)/lib/*' '$(CURDIR)/server/*' \
		--output-file build/coverage/cairn.info
	@lcov --list build/coverage/cairn.info
	@$(PYTHON) tests/harness/coverage.py build/coverage/cairn.info lib:90 server:85
	@test ! -e build/coverage/failed

# ---------------------------------------------------------------------------------------------
# Lint: the format, two static analysers, and the house's own rules

.PHONY: lint format format-check cppcheck house tidy-lib tidy-server tidy-tests
lint: $(LINTS)

format: $(DEPS_TEST)
	clang-format -i $(FORMATTED)

format-check: $(DEPS_TEST)
	@clang-format --dry-run -Werror $(FORMATTED)

house: $(DEPS_TEST)
	@$(PYTHON) tests/lint/house.py

# readdirCalled asks for readdir_r, which glibc has retired.
cppcheck: $(DEPS_TEST)
	@mkdir -p build/cppcheck
	@cppcheck --quiet --error-exitcode=1 --enable=warning,portability,performance \
		--inline-suppr --suppress=missingIncludeSystem --suppress=readdirCalled --std=c11 \
		--library=posix --cppcheck-build-dir=build/cppcheck -D_GNU_SOURCE -D__STDC__ \
		-I lib -I server $(LIB_C) $(SERVER_C)

# One stamp a file, so that an unchanged file is not analysed again.
# How far the analyser follows a function before it lets go. Its own bound is 225000, which finds
# nothing more here and takes many times as long; `make lint TIDY_NODES=225000` goes that far.
TIDY_NODES ?= 10000
TIDY_ARGS = $(foreach a,-analyzer-config max-nodes=$(TIDY_NODES),--extra-arg=-Xclang \
	--extra-arg=$a)
TIDY_CONFIG := .clang-tidy $(wildcard tests/.clang-tidy)
tidied = $(patsubst %.c,build/tidy/%.ok,$1)
build/tidy/%.ok: %.c $(HEADERS) $(TIDY_CONFIG) | $(DEPS_TEST)
	@mkdir -p $(@D)
	@$(LARGE_PAGES) clang-tidy --quiet $< $(TIDY_ARGS) -- $(STANDARD) -Wall -Wextra -Wshadow $(OURS) \
		-iquote tests/support $(LIB_CFLAGS) $(SERVER_CFLAGS) 2>$@.log || { cat $@.log >&2; exit 1; }
	@touch $@

tidy-lib: $(call tidied,$(LIB_C))
tidy-server: $(call tidied,$(SERVER_C))
tidy-tests: $(call tidied,$(ALL_TEST_C))
tidy-lib tidy-server tidy-tests:
	@echo "  $@: $(words $^) files in order"

# ---------------------------------------------------------------------------------------------
# The demo, installing, cleaning

# First the classification of the whole event; then the event as it stood on day three, served,
# with the rest in fast motion. Ctrl-C ends it; `make demo DEMO_ARGS=--once` ends by itself.
DEMO_ARGS ?=
.PHONY: demo
demo: $(CAIRN)
	@deploy/packages/install.sh deploy/packages/demo.txt
	@$(CAIRN) score $(DEMO) --format text
	@$(CAIRN) score $(DEMO) --format text --by class
	@$(CAIRN) score $(DEMO) --format text --card 91
	@$(PYTHON) seed-demo/demo.py $(CAIRN) $(DEMO_ARGS)

# The pictures of the README, anew.
.PHONY: pictures
pictures: $(DEPS_TEST) $(DEPS_NPM) $(CAIRN)
	$(NODE) tests/browser/pictures.mjs

.PHONY: install
install: $(CAIRN)
	install -D -m 755 $(CAIRN) $(DESTDIR)$(PREFIX)/bin/cairn
	install -D -m 644 deploy/cairn.1 $(DESTDIR)$(PREFIX)/share/man/man1/cairn.1

# A Debian package in build/, of the program as built; debhelper does the rest in a folder of its
# own. What is compiled in from npm brings its licence along.
DEB := $(BUILD)/deb/cairn
.PHONY: deb
deb: $(CAIRN) $(DEPS_TEST)
	@rm -rf $(BUILD)/deb && mkdir -p $(DEB)/deploy
	@cp -r deploy/debian $(DEB)/debian
	@cp README.md DEVELOPERS.md $(DEB)
	@cp -r deploy/backup deploy/container deploy/nginx deploy/varnish deploy/*.md $(DEB)/deploy
	@mkdir $(DEB)/schema $(DEB)/seed-demo
	@cp schema/README.md schema/openapi.yaml schema/event.schema.json $(DEB)/schema
	@cp -r seed-demo/README.md seed-demo/merrow-2027 seed-demo/pictures $(DEB)/seed-demo
	@cp deploy/systemd/cairn.service $(DEB)/debian/cairn.service
	@cp deploy/systemd/cairn-backup.service $(DEB)/debian/cairn.cairn-backup.service
	@cp deploy/systemd/cairn-backup.timer $(DEB)/debian/cairn.cairn-backup.timer
	@{ printf '\nFiles: web/node_modules/idb/*\n'; \
		sed -n 's/^Copyright (c)/Copyright:/p' web/node_modules/idb/LICENSE; \
		printf 'License: ISC\n'; sed -e '1,/^Copyright/d' -e '/^$$/d' -e 's/^/ /' \
		web/node_modules/idb/LICENSE; } >>$(DEB)/debian/copyright
	$(Q)cd $(DEB) && CAIRN_ROOT=$(CURDIR) CAIRN_BUILD=$(abspath $(BUILD)) \
		MAKEFLAGS= dpkg-buildpackage --no-sign --build=binary --no-check-builddeps \
		>../log 2>&1 || { cat ../log >&2; exit 1; }
	@rm -f $(BUILD)/cairn_*.deb && cp $(BUILD)/deb/cairn_*.deb $(BUILD)
	@ls $(BUILD)/cairn_*.deb

.PHONY: clean
clean:
	rm -rf build

.PHONY: help
help:
	@echo "all       build/cairn (the default)"
	@echo "deps      install what is missing, through apt-get and npm"
	@echo "demo      score the demo event, then serve it and replay it; DEMO_ARGS=--once ends by itself"
	@echo "test      lint, tests, a short fuzz run; under ten minutes on two cores"
	@echo "test-bare demo, test and the runbook on a fresh Debian 12 in a folder; needs root, half an hour"
	@echo "test-browser  only what is tested in a real browser"
	@echo "lint      format, clang-tidy, cppcheck, the house's rules"
	@echo "asan      the tests under the address and undefined-behaviour sanitizers"
	@echo "tsan      the tests under the thread sanitizer, the load for longer"
	@echo "fuzz      each fuzz target for FUZZ_SECONDS (600)"
	@echo "bench     timings"
	@echo "explore   tests/durability with other random choices, EXPLORE_ROUNDS (5) times"
	@echo "soak      four days in SOAK_MINUTES (6), with everything that may go wrong"
	@echo "coverage  lines covered by the tests, for lib/ and server/"
	@echo "pictures  the README's screenshots, anew"
	@echo "format    let clang-format rewrite the sources"
	@echo "install   to DESTDIR and PREFIX (/usr/local)"
	@echo "deb       a Debian package in build/"
	@echo "clean     remove build/"
