// The few calls of an Arduino-compatible board that the sketch makes, for a test
// on a PC. Time and inputs are those of the script in main.cpp.
#pragma once

#include <stdint.h>
#include <stddef.h>

#define LOW 0
#define HIGH 1
#define INPUT_PULLUP 2
enum { A0 = 14, A1, A2, A3 };

uint32_t millis();
int analogRead(uint8_t pin);
int digitalRead(uint8_t pin);
void pinMode(uint8_t pin, uint8_t mode);

class HostSerial {
  public:
    void begin(uint32_t baud);
    int availableForWrite();
    size_t write(uint8_t byte);
};
extern HostSerial Serial;

void setup();
void loop();
