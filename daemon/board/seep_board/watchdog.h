// The board starts again when its loop stands still for two seconds.
#pragma once

#include <stdint.h>

#if defined(SEEP_BOARD_HOST)
void host_watchdog_begin(uint32_t ms);
void host_watchdog_feed();
static inline void watchdog_begin() { host_watchdog_begin(2000); }
static inline void watchdog_feed() { host_watchdog_feed(); }
#elif defined(__AVR__)
#include <avr/wdt.h>
static inline void watchdog_begin() { wdt_enable(WDTO_2S); }
static inline void watchdog_feed() { wdt_reset(); }
#elif defined(ARDUINO_ARCH_RP2040)
#include <hardware/watchdog.h>
static inline void watchdog_begin() { watchdog_enable(2000, true); }
static inline void watchdog_feed() { watchdog_update(); }
#else
#error "no watchdog is known for this board: add its start and its feeding here"
#endif
