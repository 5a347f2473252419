// Sends what is wired to the board as sentences of NMEA 0183: transducer
// measurements (XDR) with a checksum, ten times a second while anything moves,
// once a second at rest. For seepd, kind = "nmea".
//
// Every value is the mean of all samples since the last one sent; a switch is on
// when it was on at any moment since then, so that a short pulse is not missed.

#include <Arduino.h>

#include "outbox.h"
#include "pace.h"
#include "sentence.h"
#include "settings.h"
#include "temperature.h"
#include "watchdog.h"

static Outbox outbox;
static bool to_outbox(const char *bytes, uint8_t length) { return outbox.put(bytes, length); }
static Sentence sentence(to_outbox);
static Pace pace;

static Mean step_mean[ANALOGUE_INPUTS];
static Mean sent_mean[ANALOGUE_INPUTS];
static uint32_t compared_100uv[ANALOGUE_INPUTS];
static bool step_on[SWITCH_INPUTS];
static bool sent_on[SWITCH_INPUTS];
static bool was_on[SWITCH_INPUTS];
static uint8_t steps_waiting = 0;
static uint32_t step_began_ms = 0;
static uint32_t refused_told = 0;
static bool compared = false;

static void sample() {
    for (uint8_t i = 0; i < ANALOGUE_INPUTS; i++) {
        step_mean[i].add(static_cast<uint32_t>(analogRead(ANALOGUE[i].pin)));
    }
    for (uint8_t i = 0; i < SWITCH_INPUTS; i++) {
        step_on[i] |= digitalRead(SWITCHES[i].pin) == SWITCH_ON_LEVEL;
    }
}

static bool has_moved() {
    bool moved = false;
    for (uint8_t i = 0; i < ANALOGUE_INPUTS; i++) {
        uint32_t now_100uv = step_mean[i].value_100uv(REFERENCE_100UV, HIGHEST_COUNT);
        if (!compared || differs(now_100uv, compared_100uv[i], MOVED_100UV)) {
            moved |= compared;
            compared_100uv[i] = now_100uv;
        }
    }
    compared = true;
    for (uint8_t i = 0; i < SWITCH_INPUTS; i++) {
        moved |= step_on[i] || step_on[i] != was_on[i];
        was_on[i] = step_on[i];
    }
    return moved;
}

// Sentences of everything since the last ones.
static void send() {
    if (steps_waiting == 0) {
        return;
    }
    for (uint8_t i = 0; i < ANALOGUE_INPUTS; i++) {
        sentence.volts(sent_mean[i].value_100uv(REFERENCE_100UV, HIGHEST_COUNT), ANALOGUE[i].name);
        sent_mean[i].clear();
    }
    for (uint8_t i = 0; i < SWITCH_INPUTS; i++) {
        sentence.on_off(sent_on[i], SWITCHES[i].name);
        sent_on[i] = false;
    }
    if (TEMPERATURE_ADDRESS != 0) {
        int32_t value_0_01c = 0;
        bool read = temperature_read(TEMPERATURE_ADDRESS, &value_0_01c);
        sentence.celsius(read, value_0_01c, TEMPERATURE_NAME);
    }
    sentence.close();
    steps_waiting = 0;
}

static void tell_refused() {
    uint32_t refused = sentence.refused();
    if (refused == refused_told) {
        return;
    }
    refused_told = refused;
    char words[40] = "sentences dropped on the board: ";
    uint8_t n = static_cast<uint8_t>(strlen(words));
    // At most seven digits fit; more would be a month of nothing else.
    n = Sentence::decimal(words, n, refused % 10000000, 0);
    words[n] = 0;
    sentence.text(words);
}

static void end_step(uint32_t now_ms) {
    bool was_fast = pace.is_fast(now_ms);
    if (has_moved()) {
        pace.moved(now_ms);
    }
    bool fast = pace.is_fast(now_ms);
    if (fast && !was_fast) {
        // What waited belongs to the rest before.
        send();
    }
    for (uint8_t i = 0; i < ANALOGUE_INPUTS; i++) {
        sent_mean[i].add(step_mean[i]);
        step_mean[i].clear();
    }
    for (uint8_t i = 0; i < SWITCH_INPUTS; i++) {
        sent_on[i] |= step_on[i];
        step_on[i] = false;
    }
    steps_waiting++;
    if (fast || steps_waiting >= STEPS_AT_REST) {
        send();
        tell_refused();
    }
}

void setup() {
    Serial.begin(BAUD);
    for (uint8_t i = 0; i < SWITCH_INPUTS; i++) {
        pinMode(SWITCHES[i].pin, INPUT_PULLUP);
    }
    temperature_begin(TEMPERATURE_ADDRESS);
    sentence.text(BOARD_NAME);
    step_began_ms = millis();
    watchdog_begin();
}

void loop() {
    watchdog_feed();
    sample();
    outbox.pump();
    uint32_t now_ms = millis();
    if (now_ms - step_began_ms >= STEP_MS) {
        step_began_ms += STEP_MS;
        end_step(now_ms);
    }
}
