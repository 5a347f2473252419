// I2C of the test: a sensor at 0x48 that reads 20.0625 degC, as the LM75 tells it.
#pragma once

#include <stdint.h>
#include <stddef.h>

class HostWire {
  public:
    void begin() {}
    void beginTransmission(uint8_t address) { address_ = address; }
    size_t write(uint8_t) { return 1; }
    uint8_t endTransmission() { return address_ == 0x48 ? 0 : 2; }
    uint8_t requestFrom(uint8_t, uint8_t count) {
        next_ = 0;
        return count;
    }
    int read() {
        static const uint8_t BYTES[2] = {0x14, 0x10};
        return BYTES[next_++ & 1];
    }

  private:
    uint8_t address_ = 0;
    uint8_t next_ = 0;
};
static HostWire Wire;
