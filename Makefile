# cairn - built with GNU make, gcc and Debian 12's packages.
#
#   make            build/cairn
#   make demo       score the demo event, then serve it in fast motion
#   make test       everything that must hold before a commit
#   make help       every target
#
# Sources are found by pattern: a new file of lib/ or server/ or a test program needs no line here.
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
FUZZ := build/fuzz
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

# A command's answer, asked for when it is first used: what answers may have to be installed before.
once = $(eval $1 := $$(shell $2))$($1)
LIB_CFLAGS = $(call once,LIB_CFLAGS,pkg-config --cflags jansson libsodium)
LIB_LIBS = $(call once,LIB_LIBS,pkg-config --libs jansson libsodium)
# libmicrohttpd, gnutls, libcurl, pango, expat and PROJ are here for their headers only: what few commands use is
# loaded when it is used, not linked (server/system/shared_library.h). As the system's headers:
# warnings in them are not ours.
SERVER_CFLAGS = $(patsubst -I%,-isystem%,$(call once,SERVER_INCLUDES,pkg-config --cflags libmicrohttpd gnutls \
	libqrencode sqlite3 zlib libcurl pangocairo expat proj))
SERVER_LIBS = $(call once,SERVER_PACKAGES,pkg-config --libs libqrencode sqlite3 zlib) -pthread -lm

# For "quoted" names only, so that no header of ours stands in for a system header of that name.
OURS := -iquote lib -iquote server

C_STANDARD := c17
STANDARD := -std=$(C_STANDARD) -D_GNU_SOURCE
# Warnings are errors with the compiler that cairn is written with, Debian 12's, and so in `make test`
# and wherever that is run for us. Another compiler knows other warnings: they are only shown, unless
# `make WERROR=-Werror` asks for more.
WERROR = $(call once,WERROR,$(CC) -dumpversion | sed -n 's/^12\b.*/-Werror/p')
WARNINGS = -Wall -Wextra -Wshadow -Wconversion $(WERROR)
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

below = $(sort $(shell find $1 -name '$2' -not -path '*/node_modules/*'))
LIB_C := $(call below,lib,*.c)
SERVER_C := $(call below,server,*.c)

# One test program each; tests/harness/plan.py runs them. What several share stands in tests/support/.
TEST_C := $(foreach room,lib server published reference properties,$(call below,tests/$(room),*.c))
# Programs that tests run: the cases, the route table as JSON.
TOOL_C := tests/cases/run_cases.c tests/http/route_table.c
SUPPORT_C := $(wildcard tests/support/*.c)
BENCH_C := $(wildcard tests/bench/*.c)
FUZZ_C := $(wildcard tests/fuzz/fuzz_*.c)
BENCH_PY := $(sort $(wildcard tests/bench/bench_*.py))

ALL_TEST_C := $(TEST_C) $(TOOL_C) $(SUPPORT_C) $(BENCH_C) $(FUZZ_C)
HEADERS := $(call below,lib server tests,*.h)
FORMATTED := $(LIB_C) $(SERVER_C) $(call below,tests,*.c) $(HEADERS)

object = $(patsubst %.c,$(BUILD)/obj/%.o,$1)
test_program = $(BUILD)/tests/$(basename $(notdir $1))
bench_program = $(BUILD)/bench/$(basename $(notdir $1))

TEST_PROGRAMS := $(foreach c,$(TEST_C) $(TOOL_C),$(call test_program,$c))
BENCH_PROGRAMS := $(foreach c,$(BENCH_C),$(call bench_program,$c))
ifneq ($(words $(TEST_PROGRAMS)),$(words $(sort $(TEST_PROGRAMS))))
$(error two test programs have the same name: $(sort $(TEST_C)))
endif

# ---------------------------------------------------------------------------------------------
# What must be installed first: told, with what it is for and how to refuse, before it is done. The
# stamps make later runs quick; `make deps` looks again.

STAMPS := build/deps
DEPS_BUILD := $(STAMPS)/build
DEPS_TEST := $(STAMPS)/test
DEPS_NPM := $(STAMPS)/npm

$(DEPS_BUILD): deploy/packages/build.txt
	@deploy/packages/install.sh $^
	@mkdir -p $(@D) && touch $@

# After the build packages, never beside them: two installers would wait for one lock.
$(DEPS_TEST): deploy/packages/test.txt $(DEPS_BUILD)
	@deploy/packages/install.sh $<
	@mkdir -p $(@D) && touch $@

# Whatever npm is there will do, if its node is 18 or later. Another vendor's clashes with Debian's.
$(DEPS_NPM): deploy/packages/npm.txt tests/package-lock.json $(DEPS_TEST)
	@deploy/packages/npm.sh tests
	@mkdir -p $(@D) && touch $@

# The modules and texts of a page as one small file: on a slow line each file of its own costs a
# round trip.
WEB_FILES := $(call below,web,*.js) $(call below,web,*.html) $(call below,web,*.css) \
	$(wildcard web/words/*.json)
WEB_MODULES := $(filter %.js %.json,$(WEB_FILES))
bundle = esbuild $< --bundle --minify --format=esm --target=es2022 --charset=utf8

# A catalogue's texts without their names, its names without the texts, and the texts of one language
# as a script: see web/desk/words.js.
TEXTS := $(patsubst web/%,build/web/%,$(wildcard web/words/desk.*.json web/words/seldom.*.json))
$(TEXTS): build/web/%: web/%
	@mkdir -p $(@D)
	$(Q)sed -e 's/^{$$/[/' -e 's/^}$$/]/' -e 's/^  "[^"]*": //' $< >$@

NAMES := build/web/words/desk.names.json build/web/words/seldom.names.json
$(NAMES): build/web/words/%.names.json: web/words/%.en.json
	@mkdir -p $(@D)
	$(Q)sed -e 's/^{$$/[/' -e 's/^}$$/]/' -e 's/^  \("[^"]*"\): .*[^,]$$/\1/' -e 's/^  \("[^"]*"\): .*,$$/\1,/' $< >$@

build/web/desk/words-%.js: build/web/words/desk.%.json build/web/words/seldom.%.json $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q){ echo 'export default ['; cat $<; echo ','; cat $(word 2,$^); echo ']'; } | \
		esbuild --minify --format=esm --charset=utf8 >$@

build/web/desk/desk.js: web/desk/desk.js $(WEB_MODULES) $(NAMES) $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)$(bundle) >$@

# The second script takes what it shares with the first from there: see web/desk/first.js.
build/web/desk/seldom.js: web/desk/seldom.js $(WEB_MODULES) $(NAMES) $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)$(bundle) '--external:*/first.js' | sed 's|"\./first\.js"|"./desk.js"|g' >$@

# Read by browsers that are too old for anything else.
build/web/desk/old-browser.js: web/shared/old-browser.js $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)esbuild $< --minify --target=es5 --charset=utf8 >$@

build/web/office/office.js: web/office/office.js $(WEB_MODULES) $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)$(bundle) >$@

# The columns of the tables of public pages: for scripts the keys of each, for the style the number
# that stands for :column(board.penalty). A column that is not there leaves its name behind.
COLUMNS := build/web/board/columns
$(COLUMNS).mjs: server/pages/columns.def
	@mkdir -p $(@D)
	$(Q)awk -F'"' '/^TABLE/ { printf "%sexport const %s = [", end, $$2; end = "];\n" } \
		/^(COLUMN|OPTIONAL)/ { printf "\"%s\",", $$2 } END { printf end }' $< >$@
$(COLUMNS).sed: server/pages/columns.def
	@mkdir -p $(@D)
	$(Q)awk -F'"' '/^TABLE/ { table = $$2; n = 0 } \
		/^(COLUMN|OPTIONAL)/ { printf "s/:column(%s[.]%s)/:nth-child(%d)/g\n", table, $$2, ++n }' $< >$@

# Public pages load plain scripts: one before it is drawn, and one of its own where it has any. The
# names in them are nobody else's.
build/web/board/%.js: web/board/%.js $(WEB_MODULES) $(COLUMNS).mjs $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)$(bundle) --format=iife >$@

build/web/board/style.css: web/board/style.css $(filter %.css,$(WEB_FILES)) $(COLUMNS).sed $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)esbuild $< --bundle --minify --charset=utf8 | sed -f $(COLUMNS).sed >$@
	@! grep -o ':column([^)]*)' $@ >&2

build/web/%.css: web/%.css $(filter %.css,$(WEB_FILES)) $(DEPS_BUILD)
	@mkdir -p $(@D)
	$(Q)esbuild $< --bundle --minify --charset=utf8 >$@

WEB_MADE := $(addprefix build/web/,board/style.css board/page.js board/board.js board/screen.js \
	board/units.js desk/desk.js desk/desk.css desk/seldom.js desk/old-browser.js \
	$(patsubst %,desk/words-%.js,en de fr it) \
	office/office.js office/office.css)

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

# The library knows neither the server's headers nor its packages, and nobody knows the tests'.
INCLUDES = $(OURS) $(LIB_CFLAGS) $(SERVER_CFLAGS)
$(BUILD)/obj/lib/%.o: INCLUDES = -iquote lib $(LIB_CFLAGS)
$(BUILD)/obj/tests/%.o $(FUZZ)/obj/tests/%.o build/tidy/tests/%.ok: INCLUDES += -iquote tests/support

$(BUILD)/obj/%.o: %.c Makefile | $(DEPS_BUILD)
	@mkdir -p $(@D)
	@echo "  compile $<"
	$(Q)$(CC) $(CFLAGS) $(INCLUDES) -c $< -o $@

$(call object,$(ALL_TEST_C)): | $(DEPS_TEST)

define archive
@mkdir -p $(@D)
@rm -f $@
$(Q)$(AR) qcsD $@ $(filter %.o,$^)
endef

$(LIB_A): $(call object,$(LIB_C))
	$(archive)

# The server without its main(), for the tests.
$(SERVER_A): $(call object,$(filter-out server/commands/main.c,$(SERVER_C)))
	$(archive)

$(SUPPORT_A): $(call object,$(SUPPORT_C))
	$(archive)

$(CAIRN): $(call object,$(SERVER_C)) $(LIB_A)
	@echo "  link    $@"
	$(Q)$(CC) $(LINKING) $(filter %.o,$^) $(LIB_A) $(LIB_LIBS) $(SERVER_LIBS) -o $@

# ---------------------------------------------------------------------------------------------
# Test and bench programs

# A test named *_nomem has an allocator that refuses (tests/support/failing_memory.h): our own code's
# calls go there.
REFUSING_ALLOCATOR := $(foreach f,malloc calloc realloc strdup strndup arena_alloc arena_array \
	arena_text json_loadb,-Wl,--wrap=$f)
%_nomem: ALLOCATOR := $(REFUSING_ALLOCATOR)

ARCHIVES := $(SUPPORT_A) $(SERVER_A) $(LIB_A)
$(foreach c,$(TEST_C) $(TOOL_C),$(eval $(call test_program,$c): $(call object,$c) $(ARCHIVES)))
$(foreach c,$(BENCH_C),$(eval $(call bench_program,$c): $(call object,$c) $(ARCHIVES)))
$(TEST_PROGRAMS) $(BENCH_PROGRAMS):
	@mkdir -p $(@D)
	@echo "  link    $@"
	$(Q)$(CC) $(LINKING) $(ALLOCATOR) $< $(ARCHIVES) -lcmocka -lgmp $(LIB_LIBS) $(SERVER_LIBS) -o $@

# The cases as folders, from what differs between each and its base.
CASES := build/cases.written
$(CASES): $(wildcard tests/cases tests/cases/*.json tests/broken tests/broken/*.json tests/bases/*/*) \
		tests/support/cases.py tests/support/json_text.py | $(DEPS_TEST)
	@$(PYTHON) -m tests.support.cases
	@touch $@

# Clang asks for much memory, a little at a time: in large pages it is a fifth quicker.
LARGE_PAGES := GLIBC_TUNABLES=glibc.malloc.hugetlb=1

# Fuzz targets are clang's and always sanitized; they compile the sources once more.
FUZZ_FLAGS := $(STANDARD) -O1 -gline-tables-only -fno-omit-frame-pointer -fno-sanitize-recover=all -MMD -MP
FUZZ_PROGRAMS := $(addprefix $(FUZZ)/,$(basename $(notdir $(FUZZ_C))))
FUZZ_OBJECTS := $(patsubst %.c,$(FUZZ)/obj/%.o,$(LIB_C) $(filter-out server/commands/main.c,$(SERVER_C)))

$(FUZZ)/obj/%.o: %.c Makefile | $(DEPS_TEST)
	@mkdir -p $(@D)
	@echo "  compile $< (fuzz)"
	$(Q)$(LARGE_PAGES) clang $(FUZZ_FLAGS) -fsanitize=fuzzer-no-link,address,undefined $(INCLUDES) -c $< -o $@

$(FUZZ)/libcairn.a: $(FUZZ_OBJECTS)
	$(archive)

$(FUZZ)/fuzz_%: $(FUZZ)/obj/tests/fuzz/fuzz_%.o $(FUZZ)/libcairn.a
	@echo "  link    $@"
	$(Q)clang -fsanitize=fuzzer,address,undefined $^ $(LIB_LIBS) $(SERVER_LIBS) -o $@

# This one takes whole files into itself, which the compiler's dependency list does not tell.
$(call object,server/system/assets.c) $(FUZZ)/obj/server/system/assets.o: $(sort $(wildcard schema/* schema/presets/*)) $(WEB_FILES) $(WEB_MADE)

.SECONDARY: $(patsubst %.c,$(FUZZ)/obj/%.o,$(FUZZ_C))

-include $(shell find $(BUILD)/obj $(FUZZ)/obj build/tidy -name '*.d' 2>/dev/null)

# ---------------------------------------------------------------------------------------------
# Tests: tests/harness/plan.py finds them, tests/harness/run.py runs them.

# What asks for more memory than there is gets none, as without a sanitizer.
export ASAN_OPTIONS := exitcode=99:strict_string_checks=1:detect_stack_use_after_return=1:allocator_may_return_null=1
export LSAN_OPTIONS := suppressions=$(CURDIR)/tests/support/lsan.txt:print_suppressions=0
export UBSAN_OPTIONS := print_stacktrace=1:exitcode=99
# The thread sanitizer guesses how large a library's thread-local memory is, and of a library that is
# loaded late it sometimes guesses more than there is in all.
export TSAN_OPTIONS := exitcode=99:second_deadlock_stack=1:allocator_may_return_null=1:intercept_tls_get_addr=0:suppressions=$(CURDIR)/tests/support/tsan.txt

# What tests may ask the environment for; they run in the repository's root.
export BUILD CAIRN NODE ORACLE_SEEDS

run = $(PYTHON) tests/harness/run.py --jobs $(JOBS) --slowness $(SLOWNESS) --logs $(BUILD)/logs

.PHONY: test programs test-programs
programs: $(CAIRN) $(TEST_PROGRAMS) $(CASES)

test: $(DEPS_TEST) $(DEPS_NPM) programs $(FUZZ_PROGRAMS)
	@$(run) lint fuzz browser programs

# The README's two commands and every command of the runbook, where nothing is installed; of what is
# committed. Needs root and half an hour: see tests/bare/bare.py. PARTS="demo documents test" names
# some of it.
.PHONY: test-bare
test-bare:
	@deploy/packages/install.sh deploy/packages/bare.txt
	@$(PYTHON) tests/bare/bare.py $(PARTS)

# In a real Chromium: what people see.
.PHONY: test-browser
test-browser: $(DEPS_TEST) $(DEPS_NPM) $(CAIRN)
	@$(run) browser

# Without lint, fuzzing and browser: what the sanitizer and coverage variants run.
test-programs: $(DEPS_TEST) $(DEPS_NPM) programs
	@$(run) programs

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

$(FUZZ_SHORT): fuzz_%-short: $(FUZZ)/fuzz_%
	$(if $(regress),$(search) $(regress))
	rm -rf $(FUZZ)/found/$* && mkdir -p $(FUZZ)/found/$*
	$(search) -seed=1 -runs=$(or $(strip $(FUZZ_RUNS_$*)),$(FUZZ_RUNS)) -max_total_time=30 $(FUZZ)/found/$* $(seeds)

$(FUZZ_LONG): fuzz_%-long: $(FUZZ)/fuzz_%
	$(if $(regress),$(search) $(regress))
	mkdir -p $(FUZZ)/corpus/$*
	$(search) -max_total_time=$(FUZZ_SECONDS) -print_final_stats=1 $(FUZZ)/corpus/$* $(seeds)

# Small changes of lib/event and lib/scoring, each of which some test must see; what else one may say
# of it stands in tests/mutants/mutants.py. The linker that is quickest for many small programs.
MUTANTS_ARGS ?=
MUTANTS_SANITIZERS := -O1 -fno-omit-frame-pointer -fsanitize=address,undefined \
	-fno-sanitize-recover=all -U_FORTIFY_SOURCE -Wno-error
.PHONY: mutants
mutants: $(DEPS_TEST) programs
	@$(PYTHON) -m tests.mutants.mutants --jobs $(JOBS) --build $(BUILD) \
		--compile '$(CC) $(filter-out -g -MMD -MP,$(CFLAGS)) -iquote lib $(LIB_CFLAGS)' \
		--link '$(CC) -fuse-ld=gold $(LINKING)' --allocator='$(REFUSING_ALLOCATOR)' \
		--sanitizers='$(MUTANTS_SANITIZERS)' \
		--libraries '$(ARCHIVES) -lcmocka -lgmp $(LIB_LIBS) $(SERVER_LIBS)' $(MUTANTS_ARGS)

# Timing only here, one program after the other.
.PHONY: bench
bench: $(DEPS_TEST) $(DEPS_NPM) $(CAIRN) $(BENCH_PROGRAMS)
	@$(foreach p,$(BENCH_PROGRAMS),$p;)
	@$(foreach p,$(BENCH_PY),$(PYTHON) -m tests.bench.$(basename $(notdir $p));)

# Four days of an event in SOAK_MINUTES (6), with a crowd and all that may befall the machine. Its
# figures go into the table that `make bench` ends with.
.PHONY: soak
soak: $(DEPS_TEST) $(CAIRN)
	@$(PYTHON) -m tests.soak.soak $(SOAK_ARGS)

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

.PHONY: lint format format-check lint-web cppcheck house tidy-lib tidy-server tidy-tests
lint: tidy-lib tidy-server tidy-tests cppcheck format-check lint-web house

# Of pages and their tests: scripts, styles and JSON. What stays as it is stands in .prettierignore.
PRETTIER := $(NODE) tests/node_modules/.bin/prettier --log-level warn
FORMATTED_WEB := 'web/**/*.{js,css,json}' 'tests/{web,browser,bench,support}/**/*.{mjs,json}' tests/eslint.config.mjs \
	tests/package.json

format: $(DEPS_TEST) $(DEPS_NPM)
	clang-format -i $(FORMATTED)
	$(PRETTIER) --write $(FORMATTED_WEB)

format-check: $(DEPS_TEST) $(DEPS_NPM)
	@clang-format --dry-run -Werror $(FORMATTED)
	@$(PRETTIER) --check $(FORMATTED_WEB)

lint-web: $(DEPS_TEST) $(DEPS_NPM)
	@$(NODE) tests/node_modules/.bin/eslint --config tests/eslint.config.mjs web tests

house: $(DEPS_TEST)
	@$(PYTHON) tests/lint/house.py

# readdirCalled asks for readdir_r, which glibc has retired.
cppcheck: $(DEPS_TEST)
	@mkdir -p build/cppcheck
	@cppcheck --quiet --error-exitcode=1 --enable=warning,portability,performance \
		--inline-suppr --suppress=missingIncludeSystem --suppress=readdirCalled --std=$(C_STANDARD) \
		--library=posix --cppcheck-build-dir=build/cppcheck -D_GNU_SOURCE -D__STDC__ \
		-I lib -I server $(LIB_C) $(SERVER_C)

# How far the analyser follows a function before it lets go. Its own bound is 225000, which finds
# nothing more here and takes many times as long; `make lint TIDY_NODES=225000` goes that far.
TIDY_NODES ?= 10000
TIDY_ARGS = $(foreach a,-analyzer-config max-nodes=$(TIDY_NODES),--extra-arg=-Xclang \
	--extra-arg=$a)
tidied = $(patsubst %.c,build/tidy/%.ok,$1)

# One stamp a file, so that a file is analysed again only where it or a header of its own has changed.
build/tidy/%.ok: %.c .clang-tidy tests/.clang-tidy | $(DEPS_TEST)
	@mkdir -p $(@D)
	@$(LARGE_PAGES) clang-tidy --quiet $< $(TIDY_ARGS) -- $(STANDARD) -Wall -Wextra -Wshadow \
		$(INCLUDES) 2>$@.log || { cat $@.log >&2; exit 1; }
	@$(CC) $(STANDARD) $(INCLUDES) -MM -MP -MT $@ -MF $(@:.ok=.d) $<
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
# own.
DEB := $(BUILD)/deb/cairn
.PHONY: deb
deb: $(CAIRN) $(DEPS_TEST)
	@rm -rf $(BUILD)/deb && mkdir -p $(DEB)/deploy
	@cp -r deploy/debian $(DEB)/debian
	@cp README.md DEVELOPERS.md $(DEB)
	@cp -r deploy/backup deploy/container deploy/nginx deploy/varnish deploy/*.md $(DEB)/deploy
	@mkdir -p $(DEB)/schema $(DEB)/seed-demo $(DEB)/tests/bench
	@cp tests/bench/FIGURES.md $(DEB)/tests/bench
	@cp schema/*.md schema/openapi.yaml schema/event.schema.json $(DEB)/schema
	@cp -r seed-demo/README.md seed-demo/merrow-2027 seed-demo/pictures $(DEB)/seed-demo
	@cp deploy/systemd/cairn.service $(DEB)/debian/cairn.service
	@cp deploy/systemd/cairn-backup.service $(DEB)/debian/cairn.cairn-backup.service
	@cp deploy/systemd/cairn-backup.timer $(DEB)/debian/cairn.cairn-backup.timer
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
	@echo "all           build/cairn (the default)"
	@echo "deps          install what is missing, through apt-get and npm"
	@echo "demo          score the demo event, then serve it and replay it; DEMO_ARGS=--once ends by itself"
	@echo "programs      build/cairn, the test programs and the cases: what a single test needs"
	@echo "test          lint, all tests, a short fuzz run"
	@echo "test-browser  only what is tested in a real browser"
	@echo "test-bare     demo, test and the runbook on a fresh Debian 12 in a folder; needs root, half an hour"
	@echo "lint          format, clang-tidy, cppcheck, eslint, the house's rules"
	@echo "house         the house's rules alone: rooms, names, lengths, documents"
	@echo "format        let clang-format and prettier rewrite the sources"
	@echo "asan          the tests but for the browser's, under the address and undefined-behaviour sanitizers"
	@echo "tsan          the same under the thread sanitizer, the load for longer"
	@echo "fuzz          each fuzz target for FUZZ_SECONDS (600)"
	@echo "mutants       do the tests see small changes of the scoring? MUTANTS_ARGS=\"--count 40 --seed 2\""
	@echo "explore       tests/durability with other random choices, EXPLORE_ROUNDS (5) times"
	@echo "soak          four days in SOAK_MINUTES (6), with everything that may go wrong"
	@echo "bench         timings"
	@echo "coverage      lines covered by the tests, for lib/ and server/"
	@echo "pictures      the README's screenshots, anew"
	@echo "install       to DESTDIR and PREFIX (/usr/local)"
	@echo "deb           a Debian package in build/"
	@echo "clean         remove build/"
