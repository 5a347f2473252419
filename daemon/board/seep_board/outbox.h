// Bytes that wait for the line, so that the loop never waits for it.
#pragma once

#include <Arduino.h>
#include <stdint.h>

class Outbox {
  public:
    Outbox() : head_(0), used_(0) {}

    // All or nothing: half a sentence is of no use.
    bool put(const char *bytes, uint8_t length) {
        if (used_ + length > SIZE) {
            return false;
        }
        for (uint8_t i = 0; i < length; i++) {
            ring_[(head_ + used_++) % SIZE] = bytes[i];
        }
        return true;
    }

    // Hand on what the line takes now.
    void pump() {
        while (used_ > 0 && Serial.availableForWrite() > 0) {
            Serial.write(static_cast<uint8_t>(ring_[head_]));
            head_ = (head_ + 1) % SIZE;
            used_--;
        }
    }

  private:
    static const uint16_t SIZE = 512;
    uint16_t head_;
    uint16_t used_;
    char ring_[SIZE];
};
