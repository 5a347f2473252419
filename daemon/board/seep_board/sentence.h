// Sentences of NMEA 0183, made in place: no dynamic memory, no floating point.
#pragma once

#include <stdint.h>
#include <string.h>

// Longest sentence, `$` and line end included (NMEA 0183).
static const uint8_t LONGEST_SENTENCE = 82;

// `*hh` and the line end.
static const uint8_t CLOSING_BYTES = 5;

// Where finished bytes go; false when there is no room for all of them.
typedef bool (*SentenceSink)(const char *bytes, uint8_t length);

// Collects measurements and closes a sentence whenever the next one would make
// it too long.
class Sentence {
  public:
    explicit Sentence(SentenceSink sink) : sink_(sink), length_(0), refused_(0) {}

    // `text` is one measurement: `,U,2.2841,V,TANK`.
    void measurement(const char *text, uint8_t length) {
        if (length_ > 0 && length_ + length + CLOSING_BYTES > LONGEST_SENTENCE) {
            close();
        }
        if (length_ == 0) {
            append("$YXXDR", 6);
        }
        append(text, length);
    }

    // Volts with four decimals.
    void volts(uint32_t value_100uv, const char *name) {
        char text[40];
        uint8_t n = put(text, 0, ",U,");
        n = decimal(text, n, value_100uv, 4);
        n = put(text, n, ",V,");
        n = put(text, n, name);
        measurement(text, n);
    }

    // A switch: 1 on, 0 off.
    void on_off(bool on, const char *name) {
        char text[40];
        uint8_t n = put(text, 0, on ? ",S,1,," : ",S,0,,");
        n = put(text, n, name);
        measurement(text, n);
    }

    // A temperature with two decimals; without a reading the field stays empty.
    void celsius(bool read, int32_t value_0_01c, const char *name) {
        char text[40];
        uint8_t n = put(text, 0, ",C,");
        if (read && value_0_01c < 0) {
            n = put(text, n, "-");
        }
        if (read) {
            uint32_t size = value_0_01c < 0 ? -value_0_01c : value_0_01c;
            n = decimal(text, n, size, 2);
        }
        n = put(text, n, ",C,");
        n = put(text, n, name);
        measurement(text, n);
    }

    // A line of text (TXT).
    void text(const char *words) {
        close();
        append("$YXTXT,01,01,00,", 16);
        append(words, strlen(words));
        close();
    }

    // End the sentence that is open.
    void close() {
        if (length_ == 0) {
            return;
        }
        uint8_t sum = 0;
        for (uint8_t i = 1; i < length_; i++) {
            sum ^= static_cast<uint8_t>(line_[i]);
        }
        static const char HEX_DIGITS[] = "0123456789ABCDEF";
        line_[length_++] = '*';
        line_[length_++] = HEX_DIGITS[sum >> 4];
        line_[length_++] = HEX_DIGITS[sum & 15];
        line_[length_++] = '\r';
        line_[length_++] = '\n';
        if (!sink_(line_, length_)) {
            refused_++;
        }
        length_ = 0;
    }

    // Sentences that found no room.
    uint32_t refused() const { return refused_; }

    // Decimal digits of a whole number.
    static uint8_t decimal(char *text, uint8_t at, uint32_t value, uint8_t decimals) {
        char digits[12];
        uint8_t count = 0;
        do {
            digits[count++] = '0' + value % 10;
            value /= 10;
        } while (value > 0 || count <= decimals);
        while (count > 0) {
            if (count == decimals) {
                text[at++] = '.';
            }
            text[at++] = digits[--count];
        }
        return at;
    }

  private:
    static uint8_t put(char *text, uint8_t at, const char *more) {
        // Names are cut rather than written past the end.
        while (*more && at < 38) {
            text[at++] = *more++;
        }
        return at;
    }

    void append(const char *bytes, uint8_t count) {
        for (uint8_t i = 0; i < count && length_ < LONGEST_SENTENCE - CLOSING_BYTES; i++) {
            line_[length_++] = bytes[i];
        }
    }

    SentenceSink sink_;
    uint8_t length_;
    uint32_t refused_;
    char line_[LONGEST_SENTENCE];
};
