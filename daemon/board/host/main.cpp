// Plays the sketch on a PC: invented inputs on a clock of its own, sentences to
// standard output.
//
//   sketch SECONDS SPEED    SECONDS of the board's time, SPEED times faster than
//                           real; SPEED 0: as fast as the output takes it

#include "Arduino.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#include "../seep_board/watchdog.h"

static uint32_t clock_ms = 0;
static uint32_t fed_ms = 0;
static uint32_t watchdog_ms = 0;
static uint32_t noise = 1;
static uint32_t baud = 0;
static double room_bytes = 0;

HostSerial Serial;

uint32_t millis() { return clock_ms; }
void pinMode(uint8_t, uint8_t) {}
void host_watchdog_begin(uint32_t ms) { watchdog_ms = ms; }
void host_watchdog_feed() { fed_ms = clock_ms; }

// The line of a real board takes a byte in ten bits' time and holds 63.
void HostSerial::begin(uint32_t asked) { baud = asked; }
int HostSerial::availableForWrite() { return static_cast<int>(room_bytes); }
size_t HostSerial::write(uint8_t byte) {
    room_bytes -= 1;
    return fwrite(&byte, 1, 1, stdout);
}

static bool between(uint32_t from_s, uint32_t to_s) {
    return clock_ms >= from_s * 1000 && clock_ms < to_s * 1000;
}

// Counts of a value that goes from one to another between two times.
static int32_t ramp(uint32_t from_s, uint32_t to_s, int32_t from, int32_t to) {
    int32_t passed_ms = static_cast<int32_t>(clock_ms) - static_cast<int32_t>(from_s * 1000);
    int32_t whole_ms = static_cast<int32_t>((to_s - from_s) * 1000);
    if (passed_ms <= 0) return from;
    if (passed_ms >= whole_ms) return to;
    return from + (to - from) * passed_ms / whole_ms;
}

// Invented: the compressor fills the tank, the front is filled, the rear dumped.
int analogRead(uint8_t pin) {
    noise = noise * 1664525u + 1013904223u;
    int32_t jitter = static_cast<int32_t>((noise >> 16) % 3) - 1;
    switch (pin) {
    case A0: return 600 + ramp(60, 120, 0, 180) + ramp(200, 206, 0, -30) + jitter;
    case A1: return 380 + ramp(200, 206, 0, 60) + jitter;
    case A2: return 410 + ramp(400, 404, 0, -70) + jitter;
    default: return 590 + jitter;
    }
}

int digitalRead(uint8_t pin) {
    bool on = false;
    switch (pin) {
    case 2: on = between(200, 206); break;
    case 5: on = between(400, 404); break;
    case 6: on = between(60, 120); break;
    // A pulse of 5 ms, shorter than any sentence is apart.
    case 4: on = clock_ms >= 500000 && clock_ms < 500005; break;
    default: break;
    }
    return on ? LOW : HIGH;
}

int main(int count, char **words) {
    uint32_t seconds = count > 1 ? static_cast<uint32_t>(atol(words[1])) : 600;
    double speed = count > 2 ? atof(words[2]) : 0;
    setup();
    while (clock_ms < seconds * 1000) {
        clock_ms++;
        room_bytes += baud / 10000.0;
        if (room_bytes > 63) room_bytes = 63;
        loop();
        if (watchdog_ms > 0 && clock_ms - fed_ms > watchdog_ms) {
            fprintf(stderr, "the watchdog was not fed\n");
            return 1;
        }
        if (speed > 0 && clock_ms % 20 == 0) {
            fflush(stdout);
            double pause_s = 0.02 / speed;
            struct timespec pause = {static_cast<time_t>(pause_s),
                                     static_cast<long>((pause_s - static_cast<time_t>(pause_s)) * 1e9)};
            nanosleep(&pause, nullptr);
        }
    }
    // What the line has not taken yet.
    room_bytes = 1e6;
    loop();
    fflush(stdout);
    return 0;
}
