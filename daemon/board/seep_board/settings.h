// What is wired to the board. Edit the tables; nothing else needs to change.
//
// The board sends volts at its pins and switches as 0 or 1. What a volt means is
// said in the rig file (`calibrate`), so a new sensor needs no new program.
#pragma once

#include <Arduino.h>
#include <stdint.h>

// Name and version, sent once after each start.
#define BOARD_NAME "seep-board 1.0.0"

// Speed of the line, baud. USB boards ignore it.
static const uint32_t BAUD = 38400;

// Voltage at which the converter reads its highest count, in 0.1 mV. With a
// ratiometric sensor on the same 5 V the ratio is exact whatever the supply is.
static const uint32_t REFERENCE_100UV = 50000;

// Highest count of the converter: 1023 for 10 bits.
static const uint32_t HIGHEST_COUNT = 1023;

// An input has moved when a mean of 100 ms differs by more than this, in 0.1 mV:
// two counts of a 10 bit converter, more than its own noise.
static const uint32_t MOVED_100UV = 100;

struct AnalogueInput {
    uint8_t pin;
    const char *name;
};

// Pressures, heights, the supply behind its divider.
static const AnalogueInput ANALOGUE[] = {
    {A0, "TANK"},
    {A1, "FRONT"},
    {A2, "REAR"},
    {A3, "SUPPLY"},
};

struct SwitchInput {
    uint8_t pin;
    const char *name;
};

// Valves and compressors, through optocouplers that pull the pin to ground
// while the coil has current.
static const SwitchInput SWITCHES[] = {
    {2, "FRONT_FILL"},
    {3, "FRONT_DUMP"},
    {4, "REAR_FILL"},
    {5, "REAR_DUMP"},
    {6, "COMPRESSOR"},
};
static const uint8_t SWITCH_ON_LEVEL = LOW;

// A temperature sensor with the register layout of the LM75 on I2C; 0: none.
static const uint8_t TEMPERATURE_ADDRESS = 0x48;
static const char TEMPERATURE_NAME[] = "AIR";

static const uint8_t ANALOGUE_INPUTS = sizeof(ANALOGUE) / sizeof(ANALOGUE[0]);
static const uint8_t SWITCH_INPUTS = sizeof(SWITCHES) / sizeof(SWITCHES[0]);
