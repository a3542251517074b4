# pullcurve. `make help` lists what can be made.
PREFIX  ?= /usr/local
DESTDIR ?=
BUILD   ?= build
CFLAGS  ?= -O2 -g
WERROR  ?= -Werror
NEED    ?= tests/tools/need.sh
JOBS    ?= $(shell nproc)
BINDIR   = $(PREFIX)/bin
MANDIR   = $(PREFIX)/share/man/man1
DATADIR  = $(PREFIX)/share/pullcurve
DOCDIR   = $(PREFIX)/share/doc/pullcurve
KINDS   := plots bows rules
DIRS     = $(BINDIR) $(MANDIR) $(DOCDIR) $(KINDS:%=$(DATADIR)/%)

VERSION := 0.1.0
ROOMS   := verbs show record bench curve base
PKGS    := libserialport gsl sqlite3 jansson inih
STD     := -std=c17 -D_DEFAULT_SOURCE -D_XOPEN_SOURCE=700
WARN    := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes \
           -Wvla -Wformat=2 -Wwrite-strings -Wundef $(WERROR)
SANITIZE := -O1 -g -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=all

PKG_CFLAGS := $(shell pkg-config --cflags $(PKGS) 2>/dev/null)
PKG_LIBS   := $(shell pkg-config --libs $(PKGS) 2>/dev/null)
ALL_CPPFLAGS = -Isrc -MMD -MP -DPULLCURVE_VERSION='"$(VERSION)"' \
               -DPULLCURVE_DATADIR='"$(DATADIR)"' $(PKG_CFLAGS) $(CPPFLAGS)
ALL_CFLAGS   = $(STD) $(WARN) -ffp-contract=off $(CFLAGS)
ALL_LDLIBS   = $(PKG_LIBS) -lm $(LDLIBS)

room_objects   = $(patsubst src/%.c,$(BUILD)/%.o,$(sort $(wildcard src/$(1)/*.c)))
# A helper of the tests in a folder is a .c with a header of the same name.
helper_objects = $(patsubst %.c,$(BUILD)/%.o,$(wildcard $(patsubst %.h,%.c,$(wildcard tests/$(1)/*.h))))
ARCHIVES := $(ROOMS:%=$(BUILD)/lib%.a)
TESTS    := $(patsubst tests/%.c,$(BUILD)/tests/%,$(sort $(wildcard tests/*/test_*.c)))
PRELOADS := $(patsubst %.c,$(BUILD)/%.so,$(wildcard tests/preload/*.c))
SHIPPED  := README.md DEVELOPERS.md LICENSE Makefile src tests fixtures plots docs .ci .clang-format
DATA     := $(wildcard plots/* fixtures/bows/*.ini fixtures/rules/*.ini)
DOCS     := $(wildcard docs/*.md) fixtures/bench.ini

Q       := $(if $(V),,@)
AGAIN    = +$(Q)$(MAKE) --no-print-directory $(if $(findstring jobserver,$(MAKEFLAGS)),,-j$(JOBS))
RUN      = PULLCURVE='$(abspath $(BUILD)/pullcurve)' PULLCURVE_SOURCE='$(CURDIR)' \
           SERIAL_ON_PTY_SO='$(abspath $(BUILD)/tests/preload/serial_on_pty.so)' \
           BUILD='$(abspath $(BUILD))' CC='$(CC)'
TREE_CHECKS := tests/tools/check_tree.sh tests/tools/check_headers.sh tests/tools/check_pure.sh

.PHONY: all tests help demo check built-check asan valgrind lint manual format install uninstall dist clean
.PHONY: bench coverage-study
all: $(BUILD)/pullcurve
tests: $(TESTS) $(PRELOADS)

help:
	@echo 'make            the program, $(BUILD)/pullcurve'
	@echo 'make demo       install what is missing, build, and measure a simulated bow'
	@echo 'make check      install what is missing, build, and run every test'
	@echo 'make asan       the tests under address and undefined-behaviour sanitizers'
	@echo 'make valgrind   the tests under valgrind (slow)'
	@echo 'make bench      what the work costs, against its targets'
	@echo 'make coverage-study  how often the intervals hold the truth (minutes); writes docs/validation-*.md'
	@echo 'make lint       format, cppcheck, shellcheck, man page'
	@echo 'make format     let clang-format rewrite the sources'
	@echo 'make manual     put the verbs and options of the help into docs/pullcurve.1'
	@echo 'make install    into PREFIX=$(PREFIX) (DESTDIR is honoured); make uninstall takes it away'
	@echo 'make dist       $(BUILD)/pullcurve-$(VERSION).tar.gz'
	@echo 'make clean      take build folders away'
	@echo 'Variables: CC CFLAGS CPPFLAGS LDFLAGS BUILD PREFIX DESTDIR WERROR= (warnings stay warnings) V=1'

# What is missing is installed before the second make, which asks pkg-config again.
demo:
	@$(NEED) run
	$(AGAIN) all
	@$(RUN) tests/tools/demo.sh

check:
	@$(NEED) run check
	$(AGAIN) built-check

built-check: all tests
	@$(RUN) tests/tools/run_tests.sh $(if $(TESTS_ONLY),,$(TREE_CHECKS)) $(TESTS)

asan:
	$(AGAIN) BUILD=$(BUILD)-asan CFLAGS='$(SANITIZE)' TESTS_ONLY=1 built-check

valgrind:
	$(AGAIN) TESTS_ONLY=1 TEST_SECONDS=1800 built-check \
	    TEST_WRAPPER='valgrind -q --leak-check=full --error-exitcode=9'

bench: $(BUILD)/tests/benchmark/montecarlo
	@$< fixtures/bows/hunting_compound.ini

STUDIES := $(addprefix $(BUILD)/tests/study/,coverage stagger smoothing lagging truth)
$(BUILD)/tests/study/smoothing: $(BUILD)/tests/study/smoothers.o
coverage-study: $(STUDIES)
	@$(RUN) tests/study/run.sh

lint:
	@tests/tools/lint.sh

manual: all
	tests/tools/manual.py $(BUILD)/pullcurve docs/pullcurve.1

format:
	clang-format -i $$(find src tests -name '*.[ch]')

install: all
	install -d $(DIRS:%=$(DESTDIR)%)
	install -m 755 $(BUILD)/pullcurve $(DESTDIR)$(BINDIR)
	install -m 644 docs/pullcurve.1 $(DESTDIR)$(MANDIR)
	install -m 644 $(DOCS) $(DESTDIR)$(DOCDIR)
	for kind in $(KINDS); do \
	    install -m 644 $$(printf '%s\n' $(DATA) | grep $$kind/) $(DESTDIR)$(DATADIR)/$$kind || exit 1; done

# What a user has put beside our files stays.
uninstall:
	rm -f $(DESTDIR)$(BINDIR)/pullcurve $(DESTDIR)$(MANDIR)/pullcurve.1
	rm -f $(addprefix $(DESTDIR)$(DATADIR)/,$(DATA:fixtures/%=%))
	rm -f $(addprefix $(DESTDIR)$(DOCDIR)/,$(notdir $(DOCS)))
	-rmdir $(addprefix $(DESTDIR),$(KINDS:%=$(DATADIR)/%) $(DATADIR) $(DOCDIR)) 2>/dev/null

dist:
	@mkdir -p $(BUILD)
	tar -czf $(BUILD)/pullcurve-$(VERSION).tar.gz --sort=name --owner=0 --group=0 --numeric-owner \
	    --exclude=__pycache__ --transform='s,^,pullcurve-$(VERSION)/,' $(SHIPPED)

clean:
	rm -rf build build-asan $(BUILD)

$(BUILD)/pullcurve: $(BUILD)/main.o $(ARCHIVES)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LDLIBS)

define ARCHIVE_RULE
$(BUILD)/lib$(1).a: $(call room_objects,$(1))
	$(Q)rm -f $$@ && $$(AR) rcs $$@ $$^
endef
$(foreach room,$(ROOMS),$(eval $(call ARCHIVE_RULE,$(room))))

$(BUILD)/%.o: src/%.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS) -c -o $@ $<

$(BUILD)/tests/%.o: tests/%.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CPPFLAGS) -Itests $(ALL_CFLAGS) -c -o $@ $<

# Loaded into the program under test, so it is built without the sanitizers.
$(BUILD)/tests/preload/%.so: tests/preload/%.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CPPFLAGS) $(filter-out -fsanitize%,$(ALL_CFLAGS)) -shared -fPIC -o $@ $< -ldl

$(STUDIES): %: %.o $(BUILD)/tests/study/study.o $(ARCHIVES)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LDLIBS)

$(BUILD)/tests/benchmark/%: $(BUILD)/tests/benchmark/%.o $(ARCHIVES)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LDLIBS)

.SECONDEXPANSION:
$(BUILD)/tests/%: $(BUILD)/tests/%.o $$(call helper_objects,$$(*D)) $(ARCHIVES)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LDLIBS) -lcmocka

# Changes when the compiler or a flag does, so that everything is made again.
FLAGS = $(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS)
$(BUILD)/flags: FORCE
	$(if $(PKG_LIBS),,$(error pkg-config does not find all of: $(PKGS). Run $(NEED) run, or install them))
	@mkdir -p $(@D) && printf '%s\n' "$(subst ",\",$(FLAGS))" | cmp -s - $@ || printf '%s\n' "$(subst ",\",$(FLAGS))" > $@
.PHONY: FORCE

-include $(wildcard $(BUILD)/*.d $(BUILD)/*/*.d $(BUILD)/tests/*/*.d)
.PRECIOUS: $(BUILD)/%.o $(BUILD)/tests/%.o
