// A temperature sensor with the register layout of the LM75: register 0 holds
// the temperature, high byte first, 1/256 degC per count of its 16 bits.
#pragma once

#include <Wire.h>
#include <stdint.h>

static inline void temperature_begin(uint8_t address) {
    if (address != 0) {
        Wire.begin();
#if defined(WIRE_HAS_TIMEOUT)
        // A stuck bus must not stop the loop.
        Wire.setWireTimeout(3000, true);
#endif
    }
}

// False when the sensor does not answer.
static inline bool temperature_read(uint8_t address, int32_t *value_0_01c) {
    if (address == 0) {
        return false;
    }
    Wire.beginTransmission(address);
    Wire.write(static_cast<uint8_t>(0));
    if (Wire.endTransmission() != 0) {
        return false;
    }
    if (Wire.requestFrom(address, static_cast<uint8_t>(2)) != 2) {
        return false;
    }
    uint8_t high = static_cast<uint8_t>(Wire.read());
    uint8_t low = static_cast<uint8_t>(Wire.read());
    int16_t raw = static_cast<int16_t>((high << 8) | low);
    // Rounded to the nearest hundredth, halves away from zero.
    int32_t scaled = static_cast<int32_t>(raw) * 100;
    *value_0_01c = (scaled + (raw < 0 ? -128 : 128)) / 256;
    return true;
}
