# pullcurve. `make help` lists what can be made.
PREFIX  ?= /usr/local
DESTDIR ?=
BUILD   ?= build
CFLAGS  ?= -O2 -g
WERROR  ?= -Werror

VERSION := 0.1.0
ROOMS   := verbs show record bench curve base
PKGS    := libserialport gsl sqlite3 jansson
STD     := -std=c17 -D_DEFAULT_SOURCE -D_XOPEN_SOURCE=700
WARN    := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes \
           -Wvla -Wformat=2 -Wwrite-strings -Wundef $(WERROR)
ALL_CPPFLAGS = -Isrc -MMD -MP -DPULLCURVE_VERSION='"$(VERSION)"' $(PKG_CFLAGS) $(CPPFLAGS)
ALL_CFLAGS   = $(STD) $(WARN) -ffp-contract=off $(CFLAGS)
ALL_LDLIBS   = $(PKG_LIBS) -linih -lm $(LDLIBS)

PKG_CFLAGS := $(shell pkg-config --cflags $(PKGS) 2>/dev/null)
PKG_LIBS   := $(shell pkg-config --libs $(PKGS) 2>/dev/null)

Q := $(if $(V),,@)

room_objects = $(patsubst src/%.c,$(BUILD)/%.o,$(sort $(wildcard src/$(1)/*.c)))
ARCHIVES := $(ROOMS:%=$(BUILD)/lib%.a)
TESTS    := $(patsubst tests/%.c,$(BUILD)/tests/%,$(sort $(wildcard tests/*/test_*.c)))

.PHONY: all
all: $(BUILD)/pullcurve

$(BUILD)/pullcurve: $(BUILD)/main.o $(ARCHIVES)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LDLIBS)

define ARCHIVE_RULE
$(BUILD)/lib$(1).a: $(call room_objects,$(1))
	$(Q)rm -f $$@ && $$(AR) rcs $$@ $$^
endef
$(foreach room,$(ROOMS),$(eval $(call ARCHIVE_RULE,$(room))))

$(BUILD)/%.o: src/%.c
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CPPFLAGS) $(ALL_CFLAGS) -c -o $@ $<

$(BUILD)/tests/%.o: tests/%.c
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CPPFLAGS) -Itests $(ALL_CFLAGS) -c -o $@ $<

$(BUILD)/tests/%: $(BUILD)/tests/%.o $(ARCHIVES)
	$(Q)$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(ALL_LDLIBS) -lcmocka

-include $(wildcard $(BUILD)/*.d $(BUILD)/*/*.d $(BUILD)/tests/*/*.d)
.SECONDARY:
